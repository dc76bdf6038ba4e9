"""Schemas for recoveries out of equipment."""

import marshmallow as ma

from service.api.fields import Among, Day, Instant, Number, Text, Truth, Whole, Within
from service.api.paging import PageArgs
from service.api.quantities import (
    ABSOLUTE_KPA,
    AMBIENT_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    Either,
    EitherUnit,
    mass,
    number,
)
from service.api.schemas.common import serial
from service.api.schemas.transfers import REFRIGERANT, EquipmentSchema, StandingSchema, refrigerant_names
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.cylinders.recovery import METHODS
from service.cylinders.recovery_vacuum import IN_HG_PA


def _below_atmosphere(in_hg: float) -> float:
    return -in_hg * IN_HG_PA


VACUUM = {**PRESSURE, "vacuum_in_hg": ("gauge_pa", _below_atmosphere)}
OVERRIDE = {"description": "a supervisor's, where the law leaves room"}
SCALE = {"description": "else the scale under the cylinder, heard within a minute"}
MEANT = {"description": "the one that is on; refused when somebody else has taken it off already"}
CONFIRMED = {
    "description": "a weight beyond the limit is right as typed; it is recorded, the cylinder is overfull"
}


class RecoverySchemaIn(EitherUnit):
    """A recovery to begin."""

    either = (refrigerant_names(), mass("gross_before"))

    refrigerant = Text(longest=60, allow_none=True, metadata=REFRIGERANT)
    designation = Text(longest=60, allow_none=True, metadata={"description": "the same as `refrigerant`"})
    cylinders = ma.fields.List(
        serial(),
        required=True,
        validate=ma.validate.Length(1, 20),
        metadata={"description": "in order of use"},
    )
    equipment = ma.fields.Nested(EquipmentSchema, required=True)
    standing = ma.fields.Nested(
        StandingSchema, metadata={"description": "pressure and temperature of the standing equipment"}
    )
    phase = Text(validate=Among(("liquid", "vapour")), load_default="liquid")
    method = Text(
        validate=Among(METHODS), load_default=None, metadata={"description": "else as `phase` says"}
    )
    technician = Text(longest=120, load_default=None)
    certification_number = Text(longest=80, load_default=None)
    machine_made_on = Day(load_default=None, metadata={"description": "of the recovery machine"})
    small_appliance = Truth(load_default=False)
    compressor_runs = Truth(load_default=True)
    gross_before_kg = number(MASS_KG, metadata=SCALE)
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)


class SwapSchemaIn(EitherUnit):
    """One cylinder for the next."""

    either = (mass("gross_after"), mass("gross_before"))

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)
    cylinder = serial(load_default=None, metadata=MEANT)
    to_cylinder = serial(load_default=None, metadata={"description": "else the next of the plan"})
    without_next = Truth(
        load_default=False, metadata={"description": "take the full one off; another is still to be found"}
    )
    gross_before_kg = number(MASS_KG, metadata={"description": "of the next cylinder"})
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)


class VacuumSchemaIn(EitherUnit):
    """A reading of the equipment's vacuum, the machine off."""

    either = (Either(VACUUM, required=True),)

    absolute_pressure_kpa = number(ABSOLUTE_KPA)
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    vacuum_in_hg = number(Within(0, 30), metadata={"description": "below the atmosphere, as gauges have it"})
    ambient_pressure_kpa = number(AMBIENT_KPA)
    elevation_m = number(ELEVATION_M)


class MethodSchemaIn(ma.Schema):
    """How it goes on."""

    method = Text(required=True, validate=Among(METHODS))


class EndSchemaIn(EitherUnit):
    """The end of a recovery."""

    either = (mass("gross_after"), Either(VACUUM))

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    absolute_pressure_kpa = number(
        ABSOLUTE_KPA,
        metadata={"description": "of the equipment, machine off; else the last of `vacuum_readings`"},
    )
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    vacuum_in_hg = number(Within(0, 30), metadata={"description": "below the atmosphere, as gauges have it"})
    ambient_pressure_kpa = number(AMBIENT_KPA)
    elevation_m = number(ELEVATION_M)
    held_minutes = number(
        Within(0, 10_000), load_default=None, metadata={"description": "else by `vacuum_readings`"}
    )
    vacuum_reason = Text(longest=1000, load_default=None)
    difference_reason = Text(longest=1000, load_default=None)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)
    cylinder = serial(load_default=None, metadata=MEANT)


class RecoveryArgs(PageArgs):
    """Query of the list of recoveries."""

    open = Truth(load_default=False, metadata={"description": "only those that go on"})


class FillSchema(ma.Schema):
    """One cylinder of a recovery."""

    cylinder = Text(required=True)
    room_kg = Number(required=True)
    room_lb = Number(required=True)
    expected_kg = Number(required=True, metadata={"description": "its share of the charge"})
    expected_lb = Number(required=True)
    limit_gross_kg = Number(required=True)
    limit_gross_lb = Number(required=True)
    gross_before_kg = Number(required=True, allow_none=True)
    gross_before_lb = Number(required=True, allow_none=True)
    begun_at = Instant(required=True, allow_none=True)
    ended_at = Instant(required=True, allow_none=True)
    transfer = Whole(required=True, allow_none=True)
    mass_kg = Number(required=True, allow_none=True)
    mass_lb = Number(required=True, allow_none=True)
    over_kg = Number(required=True, metadata={"description": "by which its limit was passed"})
    over_lb = Number(required=True)


class NowSchema(ma.Schema):
    """The cylinder under way."""

    cylinder = Text(required=True)
    state = Text(
        required=True,
        metadata={"description": "go, soon, stop; unknown while no scale is heard: watch `stop_at` yourself"},
    )
    stop_at_kg = Number(required=True, metadata={"description": "gross mass at which to stop"})
    stop_at_lb = Number(required=True)
    gross_kg = Number(required=True, allow_none=True)
    gross_lb = Number(required=True, allow_none=True)
    heard_at = Instant(required=True, allow_none=True)
    rate_kg_per_minute = Number(required=True, allow_none=True)
    rate_lb_per_minute = Number(required=True, allow_none=True)
    seconds_left = Number(required=True, allow_none=True)
    temperature_c = Number(required=True, allow_none=True)
    temperature_f = Number(required=True, allow_none=True)
    gauge_pressure_kpa = Number(required=True, allow_none=True)
    gauge_pressure_psi = Number(required=True, allow_none=True)
    causes = ma.fields.List(Text(), required=True, metadata={"description": "why it has to stop"})
    also = ma.fields.List(Text(), required=True, metadata={"description": "what else needs somebody"})


class VacuumReadingSchema(ma.Schema):
    """A reading of the equipment's vacuum, the machine off."""

    at = Instant(required=True)
    absolute_pressure_kpa = Number(required=True)
    absolute_pressure_psi = Number(required=True)


class RequiredVacuumSchema(ma.Schema):
    """What the equipment has to be drawn down to."""

    absolute_pressure_kpa = Number(required=True)
    absolute_pressure_psi = Number(required=True)
    share_percent = Number(required=True, allow_none=True)
    why = Text(required=True)
    source = Text(required=True)
    mark = Text(required=True)


class EndingSchema(ma.Schema):
    """How it ended."""

    absolute_pressure_kpa = Number(required=True, allow_none=True)
    absolute_pressure_psi = Number(required=True, allow_none=True)
    vacuum_met = Truth(required=True, allow_none=True)
    required = Text(required=True, allow_none=True)
    source = Text(required=True, allow_none=True)
    held_minutes = Number(required=True, allow_none=True)
    vacuum_reason = Text(required=True, allow_none=True)
    difference_reason = Text(required=True, allow_none=True)
    ended_at = Instant(required=True)
    ended_by = Text(required=True)


class RecoverySummarySchema(ma.Schema):
    """A recovery in a list."""

    id = Whole(required=True)
    designation = Text(required=True, allow_none=True)
    expected_kg = Number(required=True, allow_none=True)
    expected_lb = Number(required=True, allow_none=True)
    phase = Text(required=True)
    method = Text(required=True, metadata={"description": "liquid, vapour or push-pull"})
    equipment = ma.fields.Dict(required=True)
    technician = Text(required=True, allow_none=True)
    began_at = Instant(required=True)
    recorded_by = Text(required=True)
    ended_at = Instant(required=True, allow_none=True)


class RecoverySchema(RecoverySummarySchema):
    """How a recovery stands."""

    state = Text(
        required=True,
        metadata={"description": "filling, no-cylinder (the next is still to be put on), ended"},
    )
    cylinders = ma.fields.List(ma.fields.Nested(FillSchema), required=True)
    short_kg = Number(
        required=True,
        allow_none=True,
        metadata={"description": "of the charge, fits into no planned cylinder"},
    )
    short_lb = Number(required=True, allow_none=True)
    recovered_kg = Number(required=True)
    recovered_lb = Number(required=True)
    required_vacuum = ma.fields.Nested(
        RequiredVacuumSchema,
        required=True,
        allow_none=True,
        metadata={"description": "null: no level of the law of the place was read"},
    )
    required_vacuum_unread = Text(
        required=True, allow_none=True, metadata={"description": "what of the law nobody has read"}
    )
    vacuum_readings = ma.fields.List(ma.fields.Nested(VacuumReadingSchema), required=True)
    now = ma.fields.Nested(NowSchema, required=True, allow_none=True)
    ending = ma.fields.Nested(EndingSchema, required=True, allow_none=True)
