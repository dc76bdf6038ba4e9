"""Schemas for equilibrium pairs."""

from typing import Any

import marshmallow as ma
from marshmallow import validate

from service.api.fields import LARGEST_ID, Instant, Matches, Number, QueryWhole, Text, Truth, Whole, Within
from service.api.paging import PageArgs
from service.api.quantities import TEMPERATURE_C, TEMPERATURE_F, Either, mass, number
from service.api.schemas.common import serial
from service.api.schemas.verdicts import MASS_KG, MASS_LB, ReadingSchema, StoredVerdictSchema
from service.operations.atmosphere import PressureReading
from service.operations.pairs import NewPair
from service.units import k_from_c, k_from_f

REASON = Matches(r"^[a-z][a-z0-9-]{0,39}$", "a reason such as no-liquid")


class NewPairSchema(ReadingSchema):
    """A pair of a hookup (from the worker) or of a cylinder (typed in by a technician)."""

    either = (
        *ReadingSchema.either,
        Either({"hookup": ("hookup_id", int), "cylinder": ("serial", str)}, required=True),
        Either(
            {
                "ambient_temperature_c": ("ambient_temp_k", k_from_c),
                "ambient_temperature_f": ("ambient_temp_k", k_from_f),
            }
        ),
        mass("mass"),
    )

    hookup = Whole(validate=Within(1, LARGEST_ID))
    cylinder = serial()
    settled_at = Instant()
    from_at = Instant(data_key="from")
    to_at = Instant(data_key="to")
    provisional = Truth(load_default=False)
    reasons = ma.fields.List(
        Text(longest=40, validate=REASON), load_default=[], validate=validate.Length(max=20)
    )
    mass_kg = number(MASS_KG, metadata={"description": "gross, from a scale under the cylinder"})
    mass_lb = number(MASS_LB)
    ambient_temperature_c = number(TEMPERATURE_C)
    ambient_temperature_f = number(TEMPERATURE_F)


class StoredPairSchema(ma.Schema):
    """A pair as accepted."""

    id = Whole(required=True)
    cylinder = Text(required=True)
    epoch = Whole(required=True)
    hookup = Whole(required=True, allow_none=True)
    temperature_c = Number(required=True)
    temperature_f = Number(required=True)
    absolute_pressure_kpa = Number(required=True)
    absolute_pressure_psi = Number(required=True)
    gauge_pressure_kpa = Number(required=True, allow_none=True)
    gauge_pressure_psi = Number(required=True, allow_none=True)
    atmospheric_pressure_kpa = Number(required=True, allow_none=True)
    atmospheric_pressure_psi = Number(required=True, allow_none=True)
    atmospheric_pressure_source = Text(required=True)
    temperature_uncertainty_k = Number(required=True)
    pressure_uncertainty_kpa = Number(required=True)
    temperature_bias_uncertainty_k = Number(required=True)
    pressure_bias_uncertainty_kpa = Number(required=True)
    atmospheric_pressure_uncertainty_kpa = Number(required=True)
    pressure_device = Text(required=True, allow_none=True)
    temperature_device = Text(required=True, allow_none=True)
    settled_at = Instant(required=True)
    from_at = Instant(required=True, allow_none=True, data_key="from")
    to_at = Instant(required=True, allow_none=True, data_key="to")
    provisional = Truth(required=True)
    reasons = ma.fields.List(Text(), required=True)
    mass_kg = Number(required=True, allow_none=True)
    mass_lb = Number(required=True, allow_none=True)
    ambient_temperature_c = Number(required=True, allow_none=True)
    ambient_temperature_f = Number(required=True, allow_none=True)
    recorded_by = Text(required=True)
    received_at = Instant(required=True)


class RecordedSchema(ma.Schema):
    """The pair as stored, and the verdict on the contents it belongs to."""

    pair = ma.fields.Nested(StoredPairSchema, required=True)
    verdict = ma.fields.Nested(StoredVerdictSchema, required=True, allow_none=True)


class PairArgs(PageArgs):
    """Query of a cylinder's pairs."""

    epoch = QueryWhole(validate=Within(1, LARGEST_ID), load_default=None)
    provisional = Truth(load_default=None)


def new_pair(data: dict[str, Any], pressure: dict[str, Any], uncertainties: dict[str, Any]) -> NewPair:
    """A loaded body as the use case takes it."""
    return NewPair(
        temp_k=data["temp_k"],
        pressure=PressureReading(**pressure),
        hookup_id=data.get("hookup_id"),
        serial=data.get("serial"),
        settled_at=data.get("settled_at"),
        from_at=data.get("from_at"),
        to_at=data.get("to_at"),
        provisional=data["provisional"],
        reasons=tuple(data["reasons"]),
        mass_kg=data.get("mass_kg"),
        ambient_temp_k=data.get("ambient_temp_k"),
        **uncertainties,
    )
