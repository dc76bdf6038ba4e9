"""Schemas for transfers and for the guard's dry run."""

from typing import Any

import marshmallow as ma

from service.api.fields import Among, Instant, Number, QueryNumber, Text, Truth, Whole, Within
from service.api.paging import PageArgs
from service.api.quantities import Either, EitherUnit, mass, number
from service.api.schemas.common import place_name, serial
from service.api.schemas.money import StakeSchema
from service.api.schemas.verdicts import MASS_KG, MASS_LB, ReadingSchema
from service.api.strict import Strict

REFRIGERANT = {"description": "a designation such as R-410A, or `unknown`"}
MOVED_KG = Within(0, 5000, min_inclusive=False)
MOVED_LB = Within(0, 11_000, min_inclusive=False)


def refrigerant_names() -> Either:
    """``refrigerant`` or, meaning the same, ``designation``; two at once are refused."""
    return Either({"refrigerant": ("refrigerant", _same), "designation": ("refrigerant", _same)})


def _same(value: Any) -> Any:
    return value


class EquipmentSchema(EitherUnit):
    """What it came from or went to."""

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


class TransferSchemaIn(EitherUnit):
    """A transfer to record."""

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
        metadata={"description": "the mark on the valve, never its colour"},
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


class CheckSchemaIn(EitherUnit):
    """A question: may this much of this refrigerant go in."""

    either = (refrigerant_names(), mass("mass", required=True))

    refrigerant = Text(longest=60, allow_none=True, metadata=REFRIGERANT)
    designation = Text(longest=60, allow_none=True)
    mass_kg = number(MOVED_KG)
    mass_lb = number(MOVED_LB)
    candidates = ma.fields.List(
        Text(longest=60), metadata={"description": "of an unknown refrigerant, as its verdict has them"}
    )


class RuleSchema(ma.Schema):
    """A rule, where it stands, and the numbers at hand."""

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    source = Text(required=True, metadata={"description": "clause"})
    edition = Text(required=True)
    mark = Text(required=True, metadata={"description": "read, memory, inferred, computed or practice"})
    may_override = Truth(required=True)
    detail = Text(required=True, longest=2000, allow_none=True)


class LimitSchema(ma.Schema):
    """The greatest net mass that a rule allows."""

    rule = ma.fields.Nested(RuleSchema, required=True)
    net_mass_kg = Number(required=True)
    net_mass_lb = Number(required=True)


class FillingSchema(ma.Schema):
    """Filling limit of a cylinder for one designation."""

    designation = Text(required=True)
    net_mass_kg = Number(required=True)
    net_mass_lb = Number(required=True)
    gross_mass_kg = Number(required=True, allow_none=True)
    gross_mass_lb = Number(required=True, allow_none=True)
    governed_by = ma.fields.Nested(RuleSchema, required=True)
    limits = ma.fields.List(ma.fields.Nested(LimitSchema), required=True)


class CheckSchema(ma.Schema):
    """The guard's answer: every reason, none hidden."""

    cylinder = Text(required=True)
    refrigerant = Text(required=True, allow_none=True)
    mass_kg = Number(required=True)
    mass_lb = Number(required=True)
    allowed = Truth(required=True)
    may_be_overridden = Truth(required=True)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    accepted_by = ma.fields.Nested(RuleSchema, required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    remaining_kg = Number(required=True, allow_none=True, metadata={"description": "room now, before it"})
    remaining_lb = Number(required=True, allow_none=True)
    remaining_after_kg = Number(required=True, allow_none=True, metadata={"description": "room after it"})
    remaining_after_lb = Number(required=True, allow_none=True)
    liquid_fraction = Number(required=True, allow_none=True)
    liquid_full_temperature_c = Number(required=True, allow_none=True)
    liquid_full_temperature_f = Number(required=True, allow_none=True)
    stake = ma.fields.Nested(StakeSchema, required=True)


class TransferSchema(ma.Schema):
    """A transfer as recorded."""

    id = Whole(required=True)
    cylinder = Text(required=True)
    direction = Text(required=True)
    designation = Text(required=True, allow_none=True)
    shares = ma.fields.Dict(keys=Text(), values=Number(), required=True)
    mass_kg = Number(required=True)
    mass_lb = Number(required=True)
    gross_after_kg = Number(required=True, allow_none=True)
    gross_after_lb = Number(required=True, allow_none=True)
    phase = Text(required=True)
    epoch = Whole(required=True)
    at = Instant(required=True)
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)
    technician = Text(required=True, allow_none=True)
    certification_number = Text(required=True, allow_none=True)
    equipment = ma.fields.Dict(required=True, allow_none=True)
    standing = ma.fields.Dict(required=True, allow_none=True)
    other_cylinder = Text(required=True, allow_none=True)
    overridden = ma.fields.List(Text(), required=True, allow_none=True)
    override_reason = Text(required=True, allow_none=True)
    corrects = Whole(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)


class RecordedTransferSchema(TransferSchema):
    """A transfer just recorded, with what has to be said."""

    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    counterpart = ma.fields.Nested(TransferSchema, required=True, allow_none=True)


class CorrectionSchemaIn(EitherUnit):
    """What the mass of a transfer really was."""

    either = (mass("mass", required=True),)

    mass_kg = number(MASS_KG)
    mass_lb = number(MASS_LB)
    reason = Text(required=True, longest=1000)


class TransferArgs(PageArgs):
    """Query of the list of transfers."""

    cylinder = serial(load_default=None)


class SuitableArgs(Strict):
    """Query: which cylinders could take it."""

    refrigerant = Text(longest=60, required=True, metadata={**REFRIGERANT, "example": "R-454B"})
    mass_kg = QueryNumber(validate=MOVED_KG, metadata={"example": 6.0})
    mass_lb = QueryNumber(validate=MOVED_LB)
    site = place_name(load_default=None)
    candidates = Text(longest=400, metadata={"description": "of an unknown refrigerant, separated by commas"})


class SuitableCylinderSchema(ma.Schema):
    """One cylinder's answer."""

    cylinder = Text(required=True)
    place = Text(required=True, allow_none=True)
    same_refrigerant = Truth(required=True)
    remaining_kg = Number(required=True, allow_none=True)
    remaining_lb = Number(required=True, allow_none=True)
    why = Text(required=True, longest=4000)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)


class SuitableSchema(ma.Schema):
    """Best first; and why the others can not."""

    items = ma.fields.List(ma.fields.Nested(SuitableCylinderSchema), required=True)
    unsuitable = ma.fields.List(ma.fields.Nested(SuitableCylinderSchema), required=True)
    next = Text(required=True, allow_none=True)
