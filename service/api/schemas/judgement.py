"""The one judgement of a cylinder, as the interface answers it."""

from dataclasses import dataclass
from typing import get_args

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Number, Text, Truth, listed
from service.api.http.quantities import Quantity, kilograms, pounds
from service.api.http.strict import Strict
from service.api.schemas.rules import FillingSchema, LimitOf, RuleSchema, limit_of
from service.codes import DispositionCode, Hazard, Severity
from service.cylinders.judgement.advice import Advice
from service.cylinders.judgement.belief import Belief, Content, Source
from service.cylinders.judgement.belief import Kind as ContentKind
from service.cylinders.judgement.causes import Cause
from service.cylinders.judgement.causes import Kind as CauseKind
from service.cylinders.judgement.hazards import BelievedHazard
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.naming import Form, Name
from service.cylinders.judgement.permits import Act, Permit
from service.cylinders.requalification import State


class ContentSchema(Answer):
    """One refrigerant that may be the main content."""

    of = Content

    designation = Text(required=True)
    probability = Number(required=True, metadata={"description": "with or without anything else"})
    kinds = ma.fields.Dict(
        keys=Text(), values=Number(), required=True,
        metadata={"description": f"joint probability, by {', '.join(ContentKind)}"},
    )  # fmt: skip
    partners = ma.fields.Dict(
        keys=Text(), values=Number(), required=True,
        metadata={"description": "joint probability that another refrigerant is with it, by designation"},
    )  # fmt: skip
    source = Text(required=True, metadata=listed(Source))


class BeliefSchema(Answer):
    """Everything that the contents may be."""

    of = Belief

    empty = Truth(required=True, attribute="is_empty")
    contents = ma.fields.List(ma.fields.Nested(ContentSchema), required=True)
    something_else = Number(
        required=True,
        attribute="unknown",
        metadata={"description": "probability of something that nothing here names"},
    )
    believable = ma.fields.List(
        Text(), required=True, metadata={"description": "what every limit and rule is judged by"}
    )


class HazardSchema(Answer):
    """One hazard that the contents may have."""

    of = BelievedHazard

    code = Text(required=True, metadata=listed(Hazard))
    probability = Number(required=True)
    designations = ma.fields.List(Text(), required=True)


class NameSchema(Answer):
    """What paper and page call the contents."""

    of = Name

    form = Text(
        required=True,
        metadata=listed(get_args(Form)),
    )
    text = Text(required=True, longest=2000)
    designation = Text(
        required=True, allow_none=True, metadata={"description": "alone only where `form` is `single`"}
    )
    ground = Text(required=True)
    instead = ma.fields.List(Text(), required=True)
    probability = Number(required=True)


class PermitSchema(Answer):
    """One act, and everything that stands against it."""

    of = Permit

    act = Text(required=True, metadata=listed(Act))
    allowed = Truth(required=True)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)


@dataclass(frozen=True, slots=True)
class Advised:
    """Advice, as it is told."""

    advice: Advice

    @property
    def forbids(self) -> list[str]:
        """The ways that it forbids."""
        return sorted(self.advice.forbids)

    @property
    def may_be_released(self) -> bool:
        """Whether a supervisor may release it."""
        return self.advice.release_code is not None and bool(self.advice.forbids)


class AdviceSchema(Answer):
    """The one next thing to do."""

    of = Advised
    inside = "advice"

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    disposition = Text(required=True, metadata=listed(DispositionCode))
    forbids = ma.fields.List(Text(), required=True, metadata={"description": "`in`, `out`"})
    may_be_released = Truth(required=True)


class CauseSchema(Answer):
    """Something that needs somebody."""

    of = Cause

    code = Text(required=True, attribute="kind", metadata=listed(CauseKind))
    severity = Text(required=True, metadata=listed(Severity))
    text = Text(required=True, longest=2000)
    since = ma.fields.AwareDateTime(required=True, allow_none=True)
    ends = Text(required=True, metadata={"description": "what ends it"})


@dataclass(frozen=True, slots=True)
class Unknown:
    """Something that was needed and is not known, with the path where it is entered."""

    code: str
    text: str
    enter_at: str


class UnknownSchema(Answer):
    """Something that was needed and is not known, with the path where it is entered."""

    of = Unknown

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    enter_at = Text(required=True)


@dataclass(frozen=True, slots=True)
class Told:
    """A judgement, as it is told."""

    judgement: Judgement

    @property
    def limit(self) -> LimitOf | None:
        """The least of all limits."""
        return limit_of(self.judgement.filling.limit, self.judgement.state.tare_kg)

    @property
    def permits(self) -> list[Permit]:
        """Every act."""
        return [*self.judgement.permits.values()]

    @property
    def advice(self) -> Advised:
        """The one next thing to do."""
        return Advised(self.judgement.advice)

    @property
    def unknowns(self) -> list[Unknown]:
        """What was needed and is not known."""
        enter_at = f"/api/v1/cylinders/{self.judgement.state.serial}"
        return [Unknown(code, text, enter_at) for code, text in self.judgement.unknowns]


class JudgementSchema(Answer):
    """What a cylinder may hold, what may be done with it, what must be done next, what it is called."""

    of = Told
    inside = "judgement"

    cylinder = Text(required=True, attribute="state.serial")
    on = ma.fields.Date(required=True, metadata={"description": "the day at its place"})
    belief = ma.fields.Nested(BeliefSchema, required=True)
    hazards = ma.fields.List(ma.fields.Nested(HazardSchema), required=True)
    not_excluded = ma.fields.List(Text(metadata=listed((Hazard.FLAMMABLE, Hazard.TOXIC))), required=True)
    name = ma.fields.Nested(NameSchema, required=True)
    net_mass_kg = Quantity(kilograms, "filling.net_mass_kg", required=True, allow_none=True)
    net_mass_lb = Quantity(pounds, "filling.net_mass_kg", required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    room_kg = Quantity(
        kilograms,
        "room_kg",
        required=True,
        allow_none=True,
        metadata={"description": "none where nothing may go in, or nobody can tell"},
    )
    room_lb = Quantity(pounds, "room_kg", required=True, allow_none=True)
    requalification = Text(required=True, attribute="requalification.state", metadata=listed(State))
    requalify_by = ma.fields.Date(attribute="requalification.due_on", required=True, allow_none=True)
    permits = ma.fields.List(ma.fields.Nested(PermitSchema), required=True)
    advice = ma.fields.Nested(AdviceSchema, required=True)
    attention = ma.fields.List(ma.fields.Nested(CauseSchema), required=True)
    unknowns = ma.fields.List(ma.fields.Nested(UnknownSchema), required=True)


@dataclass(frozen=True, slots=True)
class AdviceRelease:
    """Why advice no longer binds."""

    reason: str


class AdviceReleaseSchema(Strict):
    """A supervisor's release of the advice that a cylinder stands under."""

    into = AdviceRelease

    reason = Text(required=True, longest=400)
