"""Schemas for recoveries out of equipment."""

from dataclasses import dataclass
from typing import Any, ClassVar

import marshmallow as ma

from service.api.answers import Answer
from service.api.fields import Among, Day, Instant, Number, Text, Truth, Whole, Within
from service.api.open_shapes import Document
from service.api.paging import PageArgs, Paged
from service.api.quantities import (
    ABSOLUTE_KPA,
    AMBIENT,
    AMBIENT_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    Either,
    EitherUnit,
    OfPressure,
    Quantity,
    kilograms,
    kpa,
    mass,
    number,
    pounds,
    psi,
)
from service.api.schemas.common import serial
from service.api.schemas.transfers import (
    REFRIGERANT,
    EquipmentSchema,
    StandingSchema,
    equipment_document,
    refrigerant_names,
)
from service.api.schemas.verdicts import MASS_KG, MASS_LB
from service.cylinders.recovery_vacuum import IN_HG_PA, Level
from service.operations.recoveries import NewRecovery, Swap
from service.operations.recovery_end import Ending
from service.operations.recovery_state import Course, Now
from service.operations.recovery_turns import Closed
from service.store.recoveries import Fill, Recovery


def _below_atmosphere(in_hg: float) -> float:
    return -in_hg * IN_HG_PA


VACUUM = {**PRESSURE, "vacuum_in_hg": ("gauge_pa", _below_atmosphere)}
OVERRIDE = {"description": "a supervisor's, where the law leaves room"}
SCALE = {"description": "else the scale under the cylinder, heard within a minute"}
CONFIRMED = {
    "description": "a weight beyond the limit is right as typed; it is recorded, the cylinder is overfull"
}


class RecoverySchemaIn(EitherUnit):
    """A recovery to begin."""

    into = NewRecovery
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
    technician = Text(longest=120, load_default=None)
    certification_number = Text(longest=80, load_default=None)
    machine_made_on = Day(load_default=None, metadata={"description": "of the recovery machine"})
    small_appliance = Truth(load_default=False)
    compressor_runs = Truth(load_default=True)
    gross_before_kg = number(MASS_KG, metadata=SCALE)
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)

    def built(self, loaded: Any) -> Any:
        """A refrigerant that nobody names is not known."""
        return super().built({"refrigerant": None, **loaded})

    def loaded_names(self) -> dict[str, bool]:
        """The same, with the refrigerant always."""
        return {**super().loaded_names(), "refrigerant": True}


class _Closing(EitherUnit):
    """What is said of the cylinder that is taken off becomes one ``closed``."""

    def built(self, loaded: Any) -> Any:
        """Gather it."""
        closed = Closed(loaded.pop("gross_after_kg", None), loaded.pop("confirmed"))
        return super().built({"closed": closed, **loaded})

    def loaded_names(self) -> dict[str, bool]:
        """The same, with its parts as one."""
        names = super().loaded_names()
        del names["gross_after_kg"], names["confirmed"]
        return {**names, "closed": True}


class SwapSchemaIn(_Closing):
    """One cylinder for the next."""

    into = Swap
    either = (mass("gross_after"), mass("gross_before"))

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)
    to_cylinder = serial(load_default=None, metadata={"description": "else the next of the plan"})
    without_next = Truth(
        load_default=False, metadata={"description": "take the full one off; another is still to be found"}
    )
    gross_before_kg = number(MASS_KG, metadata={"description": "of the next cylinder"})
    gross_before_lb = number(MASS_LB)
    override_reason = Text(longest=500, load_default=None, metadata=OVERRIDE)


class EndSchemaIn(_Closing, OfPressure):
    """The end of a recovery."""

    into = Ending
    either = (mass("gross_after"), Either(VACUUM), AMBIENT)

    gross_after_kg = number(MASS_KG, metadata=SCALE)
    gross_after_lb = number(MASS_LB)
    absolute_pressure_kpa = number(ABSOLUTE_KPA, metadata={"description": "of the equipment, machine off"})
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    vacuum_in_hg = number(Within(0, 30), metadata={"description": "below the atmosphere, as gauges have it"})
    ambient_pressure_kpa = number(AMBIENT_KPA)
    elevation_m = number(ELEVATION_M)
    held_minutes = number(Within(0, 10_000), load_default=None)
    vacuum_reason = Text(longest=1000, load_default=None)
    difference_reason = Text(longest=1000, load_default=None)
    confirmed = Truth(load_default=False, metadata=CONFIRMED)


@dataclass(frozen=True, slots=True)
class RecoveryQuery(Paged):
    """Which recoveries to list."""

    open: bool


class RecoveryArgs(PageArgs):
    """Query of the list of recoveries."""

    into = RecoveryQuery

    open = Truth(load_default=False, metadata={"description": "only those that go on"})


@dataclass(frozen=True, slots=True)
class Planned:
    """One cylinder of a recovery, and what it takes of the expected charge [kg]."""

    fill: Fill
    takes_kg: float


class FillSchema(Answer):
    """One cylinder of a recovery."""

    of = Planned
    inside = "fill"

    cylinder = Text(required=True)
    room_kg = Quantity(kilograms, "room_kg", required=True)
    room_lb = Quantity(pounds, "room_kg", required=True)
    expected_kg = Quantity(
        kilograms, "takes_kg", required=True, metadata={"description": "its share of the charge"}
    )
    expected_lb = Quantity(pounds, "takes_kg", required=True)
    limit_gross_kg = Quantity(kilograms, "target_gross_kg", required=True)
    limit_gross_lb = Quantity(pounds, "target_gross_kg", required=True)
    gross_before_kg = Quantity(kilograms, "gross_before_kg", required=True, allow_none=True)
    gross_before_lb = Quantity(pounds, "gross_before_kg", required=True, allow_none=True)
    begun_at = Instant(required=True, allow_none=True)
    ended_at = Instant(required=True, allow_none=True)
    transfer = Whole(attribute="transfer_id", required=True, allow_none=True)
    mass_kg = Quantity(kilograms, "mass_kg", required=True, allow_none=True)
    mass_lb = Quantity(pounds, "mass_kg", required=True, allow_none=True)
    over_kg = Quantity(
        kilograms, "over_kg", required=True, metadata={"description": "by which its limit was passed"}
    )
    over_lb = Quantity(pounds, "over_kg", required=True)


def _kg_per_minute(rate_kg_s: float) -> float:
    return kilograms(60.0 * rate_kg_s)


def _lb_per_minute(rate_kg_s: float) -> float:
    return pounds(60.0 * rate_kg_s)


def _percent(share: float) -> float:
    return 100.0 * share


class NowSchema(Answer):
    """The cylinder under way."""

    of = Now

    cylinder = Text(required=True, attribute="fill.cylinder")
    state = Text(
        required=True,
        attribute="call.state",
        metadata={"description": "go, soon, stop; unknown while no scale is heard: watch `stop_at` yourself"},
    )
    stop_at_kg = Quantity(
        kilograms, "call.stop_at_kg", required=True, metadata={"description": "gross mass at which to stop"}
    )
    stop_at_lb = Quantity(pounds, "call.stop_at_kg", required=True)
    gross_kg = Quantity(kilograms, "gross_kg", required=True, allow_none=True)
    gross_lb = Quantity(pounds, "gross_kg", required=True, allow_none=True)
    heard_at = Instant(required=True, allow_none=True)
    rate_kg_per_minute = Quantity(_kg_per_minute, "rate_kg_s", required=True, allow_none=True)
    rate_lb_per_minute = Quantity(_lb_per_minute, "rate_kg_s", required=True, allow_none=True)
    seconds_left = Number(attribute="call.seconds_left", required=True, allow_none=True)
    causes = ma.fields.List(Text(), required=True, attribute="call.causes")


class RequiredVacuumSchema(Answer):
    """What the equipment has to be drawn down to."""

    of = Level

    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True)
    share_percent = Quantity(_percent, "share", required=True, allow_none=True)
    why = Text(required=True)
    source = Text(required=True, attribute="rule.citation")
    mark = Text(required=True, attribute="rule.mark")


class EndingSchema(Answer):
    """How it ended."""

    of = Recovery
    inside = "ending"

    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True, allow_none=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True, allow_none=True)
    vacuum_met = Truth(required=True, allow_none=True)
    required = Text(required=True, allow_none=True)
    source = Text(attribute="rule", required=True, allow_none=True)
    held_minutes = Number(required=True, allow_none=True)
    vacuum_reason = Text(required=True, allow_none=True)
    difference_reason = Text(required=True, allow_none=True)
    ended_at = Instant(required=True)
    ended_by = Text(required=True)


class RecoverySummarySchema(Answer):
    """A recovery in a list."""

    of: ClassVar[type] = Recovery

    id = Whole(required=True)
    designation = Text(required=True, allow_none=True)
    expected_kg = Quantity(kilograms, "expected_kg", required=True, allow_none=True)
    expected_lb = Quantity(pounds, "expected_kg", required=True, allow_none=True)
    phase = Text(required=True)
    equipment = Document(equipment_document, required=True)
    technician = Text(required=True, allow_none=True)
    began_at = Instant(required=True, attribute="occurred_at")
    recorded_by = Text(required=True)
    ended_at = Instant(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class Told:
    """How a recovery stands, as it is told."""

    course: Course

    @property
    def cylinders(self) -> list[Planned]:
        """Its cylinders in the order of use."""
        course = self.course
        return [Planned(*one) for one in zip(course.fills, course.plan.takes_kg, strict=True)]

    @property
    def ending(self) -> Recovery | None:
        """The recovery, once it has ended."""
        return None if self.course.recovery.ending is None else self.course.recovery


class RecoverySchema(RecoverySummarySchema):
    """How a recovery stands."""

    of = Told
    inside = "course.recovery"

    state = Text(
        required=True,
        attribute="course.state",
        metadata={"description": "filling, no-cylinder (the next is still to be put on), ended"},
    )
    cylinders = ma.fields.List(ma.fields.Nested(FillSchema), required=True)
    short_kg = Quantity(
        kilograms,
        "course.plan.short_kg",
        required=True,
        allow_none=True,
        metadata={"description": "of the charge, fits into no planned cylinder"},
    )
    short_lb = Quantity(pounds, "course.plan.short_kg", required=True, allow_none=True)
    recovered_kg = Quantity(kilograms, "course.recovered_kg", required=True)
    recovered_lb = Quantity(pounds, "course.recovered_kg", required=True)
    required_vacuum = ma.fields.Nested(
        RequiredVacuumSchema,
        attribute="course.required",
        required=True,
        allow_none=True,
        metadata={"description": "null: no level of the law of the place was read"},
    )
    now = ma.fields.Nested(NowSchema, attribute="course.now", required=True, allow_none=True)
    ending = ma.fields.Nested(EndingSchema, required=True, allow_none=True)
