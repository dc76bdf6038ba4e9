"""Schemas for how a recovery stands and how it ended."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar, get_args

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Instant, Number, Text, Truth, Whole, listed
from service.api.http.open_shapes import Document
from service.api.http.quantities import Quantity, celsius, fahrenheit, kilograms, kpa, pounds, psi
from service.api.schemas.transfers import (
    equipment_document,
)
from service.cylinders.books.rule import Mark
from service.cylinders.recovery import METHODS
from service.cylinders.recovery import State as CallState
from service.cylinders.recovery_vacuum import Level
from service.cylinders.valves import Phase
from service.operations.recovery_state import Course, Now, State
from service.store.recoveries import Fill, Recovery


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
        metadata=listed(
            get_args(CallState), description="unknown while no scale is heard: watch `stop_at` yourself"
        ),
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
    temperature_c = Quantity(celsius, "temp_k", required=True, allow_none=True)
    temperature_f = Quantity(fahrenheit, "temp_k", required=True, allow_none=True)
    gauge_pressure_kpa = Quantity(kpa, "gauge_pa", required=True, allow_none=True)
    gauge_pressure_psi = Quantity(psi, "gauge_pa", required=True, allow_none=True)
    causes = ma.fields.List(
        Text(), required=True, attribute="call.causes", metadata={"description": "why it has to stop"}
    )
    also = ma.fields.List(
        Text(), required=True, attribute="others", metadata={"description": "what else needs somebody"}
    )


@dataclass(frozen=True, slots=True)
class Noted:
    """A reading of the equipment's vacuum that was noted [Pa]."""

    at: datetime
    pressure_pa: float


class VacuumReadingSchema(Answer):
    """A reading of the equipment's vacuum, the machine off."""

    of = Noted

    at = Instant(required=True)
    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True)


class RequiredVacuumSchema(Answer):
    """What the equipment has to be drawn down to."""

    of = Level

    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True)
    share_percent = Quantity(_percent, "share", required=True, allow_none=True)
    why = Text(required=True)
    source = Text(required=True, attribute="rule.citation")
    mark = Text(required=True, metadata=listed(get_args(Mark)), attribute="rule.mark")


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
    phase = Text(required=True, metadata=listed(get_args(Phase)))
    method = Text(required=True, attribute="mode", metadata=listed(METHODS))
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
    def vacuum_readings(self) -> list[Noted]:
        """Readings of the equipment's vacuum, oldest first."""
        return [
            Noted(datetime.fromisoformat(one["at"]), one["pressure_pa"])
            for one in self.course.recovery.vacuum_readings or []
        ]

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
        metadata=listed(get_args(State), description="no-cylinder: the next is still to be put on"),
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
        attribute="course.asked.level",
        required=True,
        allow_none=True,
        metadata={"description": "null: no level of the law of the place was read"},
    )
    required_vacuum_unread = Text(
        required=True,
        allow_none=True,
        attribute="course.asked.unread",
        metadata={"description": "what of the law nobody has read"},
    )
    vacuum_readings = ma.fields.List(ma.fields.Nested(VacuumReadingSchema), required=True)
    now = ma.fields.Nested(NowSchema, attribute="course.now", required=True, allow_none=True)
    ending = ma.fields.Nested(EndingSchema, required=True, allow_none=True)
