"""Schemas for transfers and for the guard's dry run."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, cast, get_args

import marshmallow as ma

from service.api.http.answers import Answer, Listed
from service.api.http.fields import (
    Among,
    Instant,
    Number,
    QueryNumber,
    Text,
    Truth,
    Whole,
    Within,
    listed,
)
from service.api.http.json_types import JsonObject
from service.api.http.open_shapes import Document
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.quantities import (
    Either,
    EitherUnit,
    Quantity,
    celsius,
    fahrenheit,
    kilograms,
    kpa,
    mass,
    number,
    pounds,
    psi,
)
from service.api.http.strict import Strict
from service.api.schemas.common import place_name, serial
from service.api.schemas.money import StakeSchema
from service.api.schemas.rules import FillingSchema, LimitOf, RuleSchema, Said, limit_of
from service.api.schemas.verdict_answers import VerdictSchema
from service.api.schemas.verdicts import MASS_KG, MASS_LB, ReadingSchema
from service.cylinders.valves import Phase, Position, Valve
from service.operations.checks import Checked
from service.operations.suitable import Found
from service.operations.support.readings import Reading
from service.operations.support.weights import Direction
from service.operations.transfers import Done
from service.store.equipment import Equipment, StandingFound
from service.store.transfers import Transfer
from service.verdict.document import from_json

REFRIGERANT = {"description": "a designation such as R-410A, or `unknown`"}
MOVED_KG = Within(0, 5000, min_inclusive=False)
MOVED_LB = Within(0, 11_000, min_inclusive=False)


def refrigerant_names() -> Either:
    """``refrigerant`` or, meaning the same, ``designation``; two at once are refused."""
    return Either({"refrigerant": ("refrigerant", _same), "designation": ("refrigerant", _same)})


def _same(value: str | None) -> str | None:
    return value


class EquipmentSchema(EitherUnit):
    """What it came from or went to."""

    into = Equipment
    either = (mass("charge"),)

    owner = Text(longest=120)
    location = Text(longest=200)
    appliance = Text(longest=120)
    circuit = Text(longest=80)
    charge_kg = number(MASS_KG)
    charge_lb = number(MASS_LB)
    same_owner = Truth(metadata={"description": "false when it goes to another owner than it came from"})


class StandingSchema(ReadingSchema):
    """Pressure and temperature of equipment that has come to rest."""


@dataclass(frozen=True, slots=True)
class TransferBody:
    """A transfer as posted [kg]."""

    cylinder: str
    direction: Direction
    from_live: bool
    refrigerant: str | None = None
    mass_kg: float | None = None
    gross_before_kg: float | None = None
    gross_after_kg: float | None = None
    phase: str | None = None
    valve: Valve | None = None
    position: Position | None = None
    at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    equipment: Equipment | None = None
    standing: Reading | None = None
    to_cylinder: str | None = None
    override_reason: str | None = None
    note: str | None = None


class TransferSchemaIn(EitherUnit):
    """A transfer to record."""

    into = TransferBody
    either = (
        refrigerant_names(),
        mass("mass"),
        mass("gross_before"),
        mass("gross_after"),
    )

    cylinder = serial(required=True)
    direction = Text(required=True, validate=Among(("in", "out")))
    refrigerant = Text(longest=60, allow_none=True, metadata=REFRIGERANT)
    designation = Text(longest=60, allow_none=True, metadata={"description": "the same as `refrigerant`"})
    mass_kg = number(MOVED_KG, metadata={"description": "net mass moved"})
    mass_lb = number(MOVED_LB)
    gross_before_kg = number(MASS_KG)
    gross_before_lb = number(MASS_LB)
    gross_after_kg = number(MASS_KG)
    gross_after_lb = number(MASS_LB)
    from_live = Truth(
        load_default=False, metadata={"description": "gross mass after from the hookup's scale"}
    )
    phase = Text(validate=Among(("liquid", "vapour")), metadata={"description": "else by valve and position"})
    valve = Text(
        validate=Among(("liquid", "vapour")),
        metadata={"description": "the mark on the valve, never its color"},
    )
    position = Text(validate=Among(("upright", "inverted")), metadata={"description": "upright unless told"})
    at = Instant()
    technician = Text(longest=120)
    certification_number = Text(longest=80)
    equipment = ma.fields.Nested(EquipmentSchema)
    standing = ma.fields.Nested(
        StandingSchema, metadata={"description": "pressure and temperature of the standing equipment"}
    )
    to_cylinder = serial(metadata={"description": "going out: the cylinder that takes it"})
    override_reason = Text(longest=500, metadata={"description": "a supervisor's, where the law leaves room"})
    note = Text(longest=1000)


@dataclass(frozen=True, slots=True)
class CheckBody:
    """What might go in [kg]."""

    mass_kg: float
    refrigerant: str | None = None
    candidates: Sequence[str] = ()


class CheckSchemaIn(EitherUnit):
    """A question: may this much of this refrigerant go in."""

    into = CheckBody
    either = (refrigerant_names(), mass("mass", required=True))

    refrigerant = Text(longest=60, allow_none=True, metadata=REFRIGERANT)
    designation = Text(longest=60, allow_none=True)
    mass_kg = number(MOVED_KG)
    mass_lb = number(MOVED_LB)
    candidates = ma.fields.List(
        Text(longest=60), metadata={"description": "of an unknown refrigerant, as its verdict has them"}
    )


@dataclass(frozen=True, slots=True)
class CheckAnswer:
    """The guard's answer; the rule that accepts is told only of what is allowed."""

    checked: Checked

    @property
    def accepted_by(self) -> Said | None:
        """The rule by which it may go in."""
        check = self.checked.check
        return Said(check.accepted_by) if check.accepted_by and check.allowed else None

    @property
    def limit(self) -> LimitOf | None:
        """What the cylinder may hold of it."""
        return limit_of(self.checked.check.limit, self.checked.judgement.state.tare_kg)


class CheckSchema(Answer):
    """The guard's answer: every reason, none hidden."""

    of = CheckAnswer
    inside = "checked"

    cylinder = Text(required=True, attribute="judgement.state.serial")
    refrigerant = Text(attribute="incoming.designation", required=True, allow_none=True)
    mass_kg = Quantity(kilograms, "incoming.mass_kg", required=True)
    mass_lb = Quantity(pounds, "incoming.mass_kg", required=True)
    allowed = Truth(required=True, attribute="check.allowed")
    may_be_overridden = Truth(required=True, attribute="check.may_be_overridden")
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="check.breaches")
    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="check.cautions")
    accepted_by = ma.fields.Nested(RuleSchema, required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    remaining_kg = Quantity(
        kilograms,
        "check.remaining_kg",
        required=True,
        allow_none=True,
        metadata={"description": "room now, before it"},
    )
    remaining_lb = Quantity(pounds, "check.remaining_kg", required=True, allow_none=True)
    remaining_after_kg = Quantity(
        kilograms,
        "check.remaining_after_kg",
        required=True,
        allow_none=True,
        metadata={"description": "room after it"},
    )
    remaining_after_lb = Quantity(pounds, "check.remaining_after_kg", required=True, allow_none=True)
    liquid_fraction = Number(required=True, allow_none=True)
    liquid_full_temperature_c = Quantity(celsius, "liquid_full_temp_k", required=True, allow_none=True)
    liquid_full_temperature_f = Quantity(fahrenheit, "liquid_full_temp_k", required=True, allow_none=True)
    stake = ma.fields.Nested(StakeSchema, required=True)


_VERDICT = VerdictSchema()


def equipment_document(told: Equipment) -> JsonObject:
    """What it came from or went to, its charge in both units."""
    charge_kg = told.get("charge_kg")
    return {
        **cast("JsonObject", told),
        "charge_kg": None if charge_kg is None else kilograms(charge_kg),
        "charge_lb": None if charge_kg is None else pounds(charge_kg),
    }


def standing_document(kept: StandingFound) -> JsonObject:
    """What was read at the standing equipment, and its verdict."""
    return {
        "temperature_c": celsius(kept["temp_k"]),
        "temperature_f": fahrenheit(kept["temp_k"]),
        "absolute_pressure_kpa": kpa(kept["pressure_pa"]),
        "absolute_pressure_psi": psi(kept["pressure_pa"]),
        "nameplate": kept["nameplate"],
        "verdict": _VERDICT.dump(from_json(kept["verdict"])),
    }


class TransferSchema(Answer):
    """A transfer as recorded."""

    of: ClassVar[type] = Transfer

    id = Whole(required=True)
    cylinder = Text(required=True)
    direction = Text(required=True, metadata=listed(get_args(Direction)))
    designation = Text(required=True, allow_none=True)
    shares = ma.fields.Dict(keys=Text(), values=Number(), required=True)
    mass_kg = Quantity(kilograms, "mass_kg", required=True)
    mass_lb = Quantity(pounds, "mass_kg", required=True)
    gross_after_kg = Quantity(kilograms, "gross_after_kg", required=True, allow_none=True)
    gross_after_lb = Quantity(pounds, "gross_after_kg", required=True, allow_none=True)
    phase = Text(required=True, metadata=listed(get_args(Phase)))
    epoch = Whole(required=True)
    at = Instant(required=True, attribute="occurred_at")
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)
    technician = Text(required=True, allow_none=True)
    certification_number = Text(required=True, allow_none=True)
    equipment = Document(equipment_document, required=True, allow_none=True)
    standing = Document(standing_document, required=True, allow_none=True)
    other_cylinder = Text(required=True, allow_none=True)
    overridden = ma.fields.List(Text(), required=True, allow_none=True)
    override_reason = Text(required=True, allow_none=True)
    corrects = Whole(attribute="corrects_id", required=True, allow_none=True)
    note = Text(required=True, allow_none=True)


class RecordedTransferSchema(TransferSchema):
    """A transfer just recorded, with what has to be said."""

    of = Done
    inside = "transfer"

    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="check.cautions")
    counterpart = ma.fields.Nested(TransferSchema, required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class CorrectionBody:
    """What the mass of a transfer really was [kg], and why."""

    mass_kg: float
    reason: str


class CorrectionSchemaIn(EitherUnit):
    """What the mass of a transfer really was."""

    into = CorrectionBody
    either = (mass("mass", required=True),)

    mass_kg = number(MASS_KG)
    mass_lb = number(MASS_LB)
    reason = Text(required=True, longest=1000)


class TransferArgs(PageArgs):
    """Query of the list of transfers."""

    into = OfCylinder

    cylinder = serial(load_default=None)


@dataclass(frozen=True, slots=True)
class SuitableQuery:
    """What might go in, and where [kg], [lb]."""

    refrigerant: str
    site: str | None
    mass_kg: float | None = None
    mass_lb: float | None = None
    candidates: str = ""


class SuitableArgs(Strict):
    """Query: which cylinders could take it."""

    into = SuitableQuery

    refrigerant = Text(longest=60, required=True, metadata={**REFRIGERANT, "example": "R-454B"})
    mass_kg = QueryNumber(validate=MOVED_KG, metadata={"example": 6.0})
    mass_lb = QueryNumber(validate=MOVED_LB)
    site = place_name(load_default=None)
    candidates = Text(longest=400, metadata={"description": "of an unknown refrigerant, separated by commas"})


class SuitableCylinderSchema(Answer):
    """One cylinder's answer."""

    of = Found
    inside = "answer"

    cylinder = Text(required=True, attribute="cylinder.serial")
    place = Text(attribute="cylinder.place", required=True, allow_none=True)
    same_refrigerant = Truth(required=True)
    remaining_kg = Quantity(kilograms, "answer.check.remaining_kg", required=True, allow_none=True)
    remaining_lb = Quantity(pounds, "answer.check.remaining_kg", required=True, allow_none=True)
    why = Text(required=True, longest=4000)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="answer.check.breaches")


@dataclass(frozen=True, slots=True)
class FoundList(Listed[Found]):
    """Cylinders that could take it, and those that could not."""

    unsuitable: Sequence[Found] = ()


class SuitableSchema(Answer):
    """Best first; and why the others can not."""

    of = FoundList

    items = ma.fields.List(ma.fields.Nested(SuitableCylinderSchema), required=True)
    unsuitable = ma.fields.List(ma.fields.Nested(SuitableCylinderSchema), required=True)
    next = Text(required=True, allow_none=True)
