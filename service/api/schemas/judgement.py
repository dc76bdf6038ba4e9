"""The one judgement of a cylinder, as the interface answers it."""

import marshmallow as ma

from service.api.fields import Number, Text, Truth
from service.api.schemas.transfers import FillingSchema, RuleSchema
from service.api.strict import Strict
from service.cylinders.judgement.belief import Kind as ContentKind
from service.cylinders.judgement.belief import Source
from service.cylinders.judgement.causes import Kind as CauseKind
from service.cylinders.judgement.permits import Act


def _one_of(values: object) -> dict[str, object]:
    return {"enum": [str(value) for value in values]}  # type: ignore[attr-defined]


class ContentSchema(ma.Schema):
    """One refrigerant that may be the main content."""

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
    source = Text(required=True, metadata=_one_of(Source))


class BeliefSchema(ma.Schema):
    """Everything that the contents may be."""

    empty = Truth(required=True)
    contents = ma.fields.List(ma.fields.Nested(ContentSchema), required=True)
    something_else = Number(
        required=True, metadata={"description": "probability of something that nothing here names"}
    )
    believable = ma.fields.List(
        Text(), required=True, metadata={"description": "what every limit and rule is judged by"}
    )


class HazardSchema(ma.Schema):
    """One hazard that the contents may have."""

    code = Text(
        required=True, metadata={"enum": ["flammable", "toxic", "oxidizing", "liquid-full", "unknown"]}
    )
    probability = Number(required=True)
    designations = ma.fields.List(Text(), required=True)


class NameSchema(ma.Schema):
    """What paper and page call the contents."""

    form = Text(
        required=True,
        metadata={"enum": ["single", "with-something", "tentative", "mixed", "unknown", "empty"]},
    )
    text = Text(required=True, longest=2000)
    designation = Text(
        required=True, allow_none=True, metadata={"description": "alone only where `form` is `single`"}
    )
    ground = Text(required=True)
    instead = ma.fields.List(Text(), required=True)
    probability = Number(required=True)


class PermitSchema(ma.Schema):
    """One act, and everything that stands against it."""

    act = Text(required=True, metadata=_one_of(Act))
    allowed = Truth(required=True)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)


class AdviceSchema(ma.Schema):
    """The one next thing to do."""

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    disposition = Text(required=True)
    forbids = ma.fields.List(Text(), required=True, metadata={"description": "`in`, `out`"})
    may_be_released = Truth(required=True)


class CauseSchema(ma.Schema):
    """Something that needs somebody."""

    code = Text(required=True, metadata=_one_of(CauseKind))
    severity = Text(required=True, metadata={"enum": ["critical", "warning", "notice"]})
    text = Text(required=True, longest=2000)
    since = ma.fields.AwareDateTime(required=True, allow_none=True)
    ends = Text(required=True, metadata={"description": "what ends it"})


class UnknownSchema(ma.Schema):
    """Something that was needed and is not known, with the path where it is entered."""

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    enter_at = Text(required=True)


class JudgementSchema(ma.Schema):
    """What a cylinder may hold, what may be done with it, what must be done next, what it is called."""

    cylinder = Text(required=True)
    on = ma.fields.Date(required=True, metadata={"description": "the day at its place"})
    belief = ma.fields.Nested(BeliefSchema, required=True)
    hazards = ma.fields.List(ma.fields.Nested(HazardSchema), required=True)
    name = ma.fields.Nested(NameSchema, required=True)
    net_mass_kg = Number(required=True, allow_none=True)
    net_mass_lb = Number(required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    room_kg = Number(
        required=True,
        allow_none=True,
        metadata={"description": "none where nothing may go in, or nobody can tell"},
    )
    room_lb = Number(required=True, allow_none=True)
    requalification = Text(required=True)
    requalify_by = ma.fields.Date(required=True, allow_none=True)
    permits = ma.fields.List(ma.fields.Nested(PermitSchema), required=True)
    advice = ma.fields.Nested(AdviceSchema, required=True)
    attention = ma.fields.List(ma.fields.Nested(CauseSchema), required=True)
    unknowns = ma.fields.List(ma.fields.Nested(UnknownSchema), required=True)


class AdviceReleaseSchema(Strict):
    """A supervisor's release of the advice that a cylinder stands under."""

    reason = Text(required=True, longest=400)
