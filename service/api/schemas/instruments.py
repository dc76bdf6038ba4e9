"""Schemas for instruments, their checks and their errors."""

from typing import Any

import marshmallow as ma

from service.api.fields import Among, Instant, Number, Text, Truth, Whole, Within
from service.api.paging import PageArgs
from service.api.quantities import ABSOLUTE_KPA, Either, EitherUnit, number
from service.api.strict import Strict
from service.operations.instruments import METHODS

ERROR_K, ERROR_KPA = Within(-100, 100), Within(-10_000, 10_000)
UNCERTAIN_K = Within(0, 100, min_inclusive=False)
UNCERTAIN_KPA = Within(0, 10_000, min_inclusive=False)


class ErrorArgs(Strict):
    """Query of what was believed."""

    at = Instant(load_default=None)


class CheckArgs(PageArgs):
    """Query of the checks."""


class NewInstrumentCheckSchema(EitherUnit):
    """What a check found: how far the device is off, what it showed less what is true."""

    either = (
        Either({"error_k": ("error_k", float), "error_kpa": ("error_pa", lambda v: 1e3 * v)}, required=True),
        Either(
            {
                "uncertainty_k": ("uncertainty_k", float),
                "uncertainty_kpa": ("uncertainty_pa", lambda v: 1e3 * v),
            }
        ),
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


class InstrumentCheckSchema(ma.Schema):
    """A check."""

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


class IntervalSchema(ma.Schema):
    """An error, and what holds it with 95 %."""

    mean = Number(required=True)
    low = Number(required=True)
    high = Number(required=True)


class SetErrorSchema(ma.Schema):
    """What is believed of one thermometer with one gauge: what they show less what is true."""

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


class SetErrorsSchema(ma.Schema):
    """Every set with a device."""

    device = Text(required=True)
    sets = ma.fields.List(ma.fields.Nested(SetErrorSchema), required=True)


class InstrumentSchema(SetErrorsSchema):
    """A device with its last check."""

    last_check = ma.fields.Nested(InstrumentCheckSchema, required=True, allow_none=True)
    check_due_at = Instant(required=True, allow_none=True)
    check_overdue = Truth(required=True)


class InstrumentListSchema(ma.Schema):
    """Every instrument of which something is known."""

    items: Any = ma.fields.List(ma.fields.Nested(InstrumentSchema), required=True)
    next = Text(required=True, allow_none=True)
