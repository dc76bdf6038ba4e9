"""Schemas for equilibrium pairs."""

from dataclasses import dataclass

import marshmallow as ma
from marshmallow import validate

from service.api.http.answers import Answer
from service.api.http.fields import (
    LARGEST_ID,
    Instant,
    Matches,
    Number,
    QueryWhole,
    Text,
    Truth,
    Whole,
    Within,
)
from service.api.http.paging import PageArgs, Paged
from service.api.http.quantities import (
    TEMPERATURE_C,
    TEMPERATURE_F,
    Either,
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
from service.api.schemas.common import serial
from service.api.schemas.verdict_answers import StoredVerdictSchema, VerdictOn
from service.api.schemas.verdicts import MASS_KG, MASS_LB, ReadingSchema
from service.operations.pairs import NewPair
from service.store.pairs import StoredPair
from service.units import k_from_c, k_from_f, kpa_from_pa

REASON = Matches(r"^[a-z][a-z0-9-]{0,39}$", "a reason such as no-liquid")


class NewPairSchema(ReadingSchema):
    """A pair of a hookup (from the worker) or of a cylinder (typed in by a technician)."""

    into = NewPair
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


@dataclass(frozen=True, slots=True)
class PairOf:
    """A pair, and the cylinder that it is of."""

    serial: str
    pair: StoredPair


class StoredPairSchema(Answer):
    """A pair as accepted."""

    of = PairOf
    inside = "pair"

    id = Whole(required=True)
    cylinder = Text(required=True, attribute="serial")
    epoch = Whole(required=True)
    hookup = Whole(attribute="hookup_id", required=True, allow_none=True)
    temperature_c = Quantity(celsius, "temp_k", required=True)
    temperature_f = Quantity(fahrenheit, "temp_k", required=True)
    absolute_pressure_kpa = Quantity(kpa, "pressure_pa", required=True)
    absolute_pressure_psi = Quantity(psi, "pressure_pa", required=True)
    gauge_pressure_kpa = Quantity(kpa, "gauge_pa", required=True, allow_none=True)
    gauge_pressure_psi = Quantity(psi, "gauge_pa", required=True, allow_none=True)
    atmospheric_pressure_kpa = Quantity(kpa, "atmosphere_pa", required=True, allow_none=True)
    atmospheric_pressure_psi = Quantity(psi, "atmosphere_pa", required=True, allow_none=True)
    atmospheric_pressure_source = Text(attribute="atmosphere_source", required=True)
    temperature_uncertainty_k = Number(attribute="temp_noise_k", required=True)
    pressure_uncertainty_kpa = Quantity(kpa_from_pa, "pressure_noise_pa", required=True)
    temperature_bias_uncertainty_k = Number(attribute="temp_bias_k", required=True)
    pressure_bias_uncertainty_kpa = Quantity(kpa_from_pa, "pressure_bias_pa", required=True)
    atmospheric_pressure_uncertainty_kpa = Quantity(kpa_from_pa, "atmosphere_bias_pa", required=True)
    pressure_device = Text(required=True, allow_none=True)
    temperature_device = Text(required=True, allow_none=True)
    settled_at = Instant(required=True)
    from_at = Instant(required=True, allow_none=True, data_key="from")
    to_at = Instant(required=True, allow_none=True, data_key="to")
    provisional = Truth(required=True)
    reasons = ma.fields.List(Text(), required=True)
    mass_kg = Quantity(kilograms, "mass_kg", required=True, allow_none=True)
    mass_lb = Quantity(pounds, "mass_kg", required=True, allow_none=True)
    ambient_temperature_c = Quantity(celsius, "ambient_temp_k", required=True, allow_none=True)
    ambient_temperature_f = Quantity(fahrenheit, "ambient_temp_k", required=True, allow_none=True)
    recorded_by = Text(required=True)
    received_at = Instant(required=True)


@dataclass(frozen=True, slots=True)
class Taken:
    """The pair as stored, and the verdict on the contents it belongs to."""

    pair: PairOf
    verdict: VerdictOn | None


class RecordedSchema(Answer):
    """The pair as stored, and the verdict on the contents it belongs to."""

    of = Taken

    pair = ma.fields.Nested(StoredPairSchema, required=True)
    verdict = ma.fields.Nested(StoredVerdictSchema, required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class PairQuery(Paged):
    """Which pairs to list."""

    epoch: int | None
    provisional: bool | None


class PairArgs(PageArgs):
    """Query of a cylinder's pairs."""

    into = PairQuery

    epoch = QueryWhole(validate=Within(1, LARGEST_ID), load_default=None)
    provisional = Truth(load_default=None)
