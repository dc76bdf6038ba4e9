"""Schemas for instruments, their checks and their errors."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import marshmallow as ma

from service.api.http.answers import Answer, Listed
from service.api.http.fields import Among, Instant, Number, Text, Truth, Whole, Within
from service.api.http.quantities import ABSOLUTE_KPA, Either, EitherUnit, number
from service.api.http.strict import Strict
from service.operations.instruments import METHODS
from service.units import pa_from_kpa

ERROR_K, ERROR_KPA = Within(-100, 100), Within(-10_000, 10_000)
UNCERTAIN_K = Within(0, 100, min_inclusive=False)
UNCERTAIN_KPA = Within(0, 10_000, min_inclusive=False)


@dataclass(frozen=True, slots=True)
class ErrorQuery:
    """Query of what was believed."""

    at: datetime | None


@dataclass(frozen=True, slots=True)
class CheckBody:
    """What a check found, of a thermometer [K] or of a gauge [Pa]."""

    method: str
    error_k: float | None = None
    error_pa: float | None = None
    uncertainty_k: float | None = None
    uncertainty_pa: float | None = None
    at_pressure_pa: float | None = None
    checked_at: datetime | None = None
    due_at: datetime | None = None
    certificate: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Interval:
    """An error, and what holds it with 95 %."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class CheckTold:
    """A check in the units of the answer."""

    id: int
    device: str
    method: str
    error_k: float | None
    error_kpa: float | None
    uncertainty_k: float | None
    uncertainty_kpa: float | None
    at_absolute_pressure_kpa: float | None
    certificate: str | None
    note: str | None
    checked_at: datetime
    due_at: datetime | None
    recorded_at: datetime
    recorded_by: str


@dataclass(frozen=True, slots=True)
class SetTold:
    """What is believed of one thermometer with one gauge, in the units of the answer."""

    thermometer: str
    gauge: str
    learned_at: datetime
    settled_pairs: float
    combined_k: Interval
    temperature_k: Interval
    zero_kpa: Interval
    gain_percent: Interval
    doubt: float
    thermometer_doubt: float
    gauge_doubt: float
    in_doubt: bool


@dataclass(frozen=True, slots=True)
class SetsTold:
    """Every set with a device."""

    device: str
    sets: Sequence[SetTold]


@dataclass(frozen=True, slots=True)
class InstrumentTold:
    """A device with its last check."""

    device: str
    sets: Sequence[SetTold]
    last_check: CheckTold | None
    check_due_at: datetime | None
    check_overdue: bool


class ErrorArgs(Strict):
    """Query of what was believed."""

    into = ErrorQuery

    at = Instant(load_default=None)


class NewInstrumentCheckSchema(EitherUnit):
    """What a check found: how far the device is off, what it showed less what is true."""

    into = CheckBody
    either = (
        Either({"error_k": ("error_k", float), "error_kpa": ("error_pa", pa_from_kpa)}, required=True),
        Either(
            {"uncertainty_k": ("uncertainty_k", float), "uncertainty_kpa": ("uncertainty_pa", pa_from_kpa)}
        ),
        Either({"at_absolute_pressure_kpa": ("at_pressure_pa", pa_from_kpa)}),
    )

    method = Text(required=True, validate=Among(METHODS))
    error_k = number(ERROR_K)
    error_kpa = number(ERROR_KPA)
    uncertainty_k = number(UNCERTAIN_K)
    uncertainty_kpa = number(UNCERTAIN_KPA)
    at_absolute_pressure_kpa = number(ABSOLUTE_KPA)
    checked_at = Instant()
    due_at = Instant()
    certificate = Text(longest=120)
    note = Text(longest=1000)


class InstrumentCheckSchema(Answer):
    """A check."""

    of = CheckTold

    id = Whole(required=True)
    device = Text(required=True)
    method = Text(required=True)
    error_k = Number(required=True, allow_none=True)
    error_kpa = Number(required=True, allow_none=True)
    uncertainty_k = Number(required=True, allow_none=True)
    uncertainty_kpa = Number(required=True, allow_none=True)
    at_absolute_pressure_kpa = Number(required=True, allow_none=True)
    certificate = Text(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    checked_at = Instant(required=True)
    due_at = Instant(required=True, allow_none=True)
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)


class IntervalSchema(Answer):
    """An error, and what holds it with 95 %."""

    of = Interval

    mean = Number(required=True)
    low = Number(required=True)
    high = Number(required=True)


class SetErrorSchema(Answer):
    """What is believed of one thermometer with one gauge: what they show less what is true."""

    of = SetTold

    thermometer = Text(required=True)
    gauge = Text(required=True)
    learned_at = Instant(required=True)
    settled_pairs = Number(required=True)
    combined_k = ma.fields.Nested(IntervalSchema, required=True)
    temperature_k = ma.fields.Nested(IntervalSchema, required=True)
    zero_kpa = ma.fields.Nested(IntervalSchema, required=True)
    gain_percent = ma.fields.Nested(IntervalSchema, required=True)
    doubt = Number(required=True)
    thermometer_doubt = Number(required=True)
    gauge_doubt = Number(required=True)
    in_doubt = Truth(required=True)


class SetErrorsSchema(Answer):
    """Every set with a device."""

    of = SetsTold

    device = Text(required=True)
    sets = ma.fields.List(ma.fields.Nested(SetErrorSchema), required=True)


class InstrumentSchema(Answer):
    """A device with its last check."""

    of = InstrumentTold

    device = Text(required=True)
    sets = ma.fields.List(ma.fields.Nested(SetErrorSchema), required=True)
    last_check = ma.fields.Nested(InstrumentCheckSchema, required=True, allow_none=True)
    check_due_at = Instant(required=True, allow_none=True)
    check_overdue = Truth(required=True)


class InstrumentListSchema(Answer):
    """Every instrument of which something is known."""

    of = Listed

    items: Any = ma.fields.List(ma.fields.Nested(InstrumentSchema), required=True)
    next = Text(required=True, allow_none=True)
