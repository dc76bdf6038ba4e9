"""Schemas for verdicts: the call that everything rests on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import marshmallow as ma
from marshmallow import validate

from service.api.http.fields import Among, Text, Truth, Within
from service.api.http.quantities import (
    ABSOLUTE_KPA,
    AMBIENT,
    AMBIENT_KPA,
    ELEVATION_M,
    GAUGE_KPA,
    GAUGE_PSI,
    PRESSURE,
    TEMPERATURE,
    TEMPERATURE_C,
    TEMPERATURE_F,
    Either,
    EitherUnit,
    OfPressure,
    mass,
    number,
)
from service.api.http.strict import Strict
from service.api.schemas.common import device_name
from service.operations.adhoc_verdict import Evidence
from service.operations.observing import Measured, Observed, Part
from service.operations.support.readings import Reading
from service.units import INCH_M, pa_from_kpa
from service.verdict.observations import LEAST_NAMED, MOST_NAMED
from service.verdict.reading_conditions import Conditions
from service.verdict.reads_the_same import PROVENANCES

UNCERTAINTY_K = Within(0.0001, 50)
UNCERTAINTY_KPA = Within(0.0001, 5000)
BIAS_K = Within(0, 50)
BIAS_KPA = Within(0, 5000)
MASS_KG = Within(0, 5000)
MASS_LB = Within(0, 11_000)
LARGEST_EVIDENCE = 64
BIAS = (
    Either({"temperature_bias_uncertainty_k": ("temp_bias_k", float)}),
    Either({"pressure_bias_uncertainty_kpa": ("pressure_bias_pa", pa_from_kpa)}),
)
"""The calibration of thermometer and gauge."""


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a cylinder besides its pairs [kg]."""

    water_capacity_kg: float | None = None
    net_mass_kg: float | None = None
    provenance: str = "unknown"


@dataclass(frozen=True, slots=True)
class VerdictRequest:
    """Pairs, and what is known of the cylinder [m], [Pa]."""

    pairs: Sequence[Evidence]
    elevation_m: float | None
    ambient_pa: float | None
    prior: str
    claimed_designation: str | None = None
    cylinder: Known = field(default_factory=Known)
    observations: Observed = field(default_factory=Observed)


@dataclass(frozen=True, slots=True)
class VerdictQuery:
    """What to add to a verdict."""

    explain: bool = False
    chart: bool = False


class ConditionsSchema(Strict):
    """How a temperature was read by hand; what is not stated counts as what is usual."""

    into: ClassVar[type] = Conditions

    in_sun = Truth(metadata={"description": "sun on the cylinder, or within the last hour"})
    at_rest_minutes = number(Within(0, 100_000), attribute="at_rest_min")
    clamp_insulated = Truth()


class ReadingSchema(OfPressure):
    """A temperature and a pressure of one settled state, with their standard uncertainties (k = 1)."""

    into: ClassVar[type] = Reading
    either: tuple[Either, ...] = (
        Either(TEMPERATURE, required=True),
        Either(PRESSURE, required=True),
        AMBIENT,
        Either({"temperature_uncertainty_k": ("temp_noise_k", float)}),
        Either({"pressure_uncertainty_kpa": ("pressure_noise_pa", pa_from_kpa)}),
        *BIAS,
    )

    temperature_c = number(TEMPERATURE_C)
    temperature_f = number(TEMPERATURE_F)
    absolute_pressure_kpa = number(ABSOLUTE_KPA)
    gauge_pressure_kpa = number(GAUGE_KPA)
    gauge_pressure_psi = number(GAUGE_PSI)
    ambient_pressure_kpa = number(AMBIENT_KPA, metadata={"description": "barometer; beats the elevation"})
    elevation_m = number(ELEVATION_M)
    temperature_uncertainty_k = number(UNCERTAINTY_K)
    pressure_uncertainty_kpa = number(UNCERTAINTY_KPA)
    temperature_bias_uncertainty_k = number(BIAS_K)
    pressure_bias_uncertainty_kpa = number(BIAS_KPA)
    conditions = ma.fields.Nested(ConditionsSchema)


class EvidenceSchema(ReadingSchema):
    """A pair of a stateless verdict; pairs that name no device are taken to share one."""

    into = Evidence

    temperature_device = device_name()
    pressure_device = device_name()


class CylinderFactsSchema(EitherUnit):
    """What is known of the cylinder besides its pairs."""

    into = Known
    either = (mass("water_capacity"), mass("net_mass"))

    water_capacity_kg = number(Within(0.01, 5000))
    water_capacity_lb = number(Within(0.02, 11_000))
    net_mass_kg = number(MASS_KG)
    net_mass_lb = number(MASS_LB)
    provenance = Text(
        validate=Among(list(PROVENANCES)),
        metadata={
            "description": "maker: a maker's sealed container; records: own, without a gap; unknown, if not stated"
        },
    )


class PartSchema(Strict):
    """One refrigerant of a measured composition."""

    into = Part

    designation = Text(longest=40, required=True)
    mass_fraction = number(Within(0, 1), required=True)


class CompositionSchema(Strict):
    """What an analyser or a laboratory found, without air, and its standard uncertainty (k = 1)."""

    into = Measured

    parts = ma.fields.List(ma.fields.Nested(PartSchema), required=True, validate=validate.Length(1, 12))
    mass_fraction_uncertainty = number(Within(0.0001, 0.5))

    @ma.validates_schema
    def whole(self, data: Mapping[str, Sequence[Part]], **_: object) -> None:
        """Refuse parts that do not make up the contents."""
        named = sum(part.mass_fraction for part in data["parts"])
        if not LEAST_NAMED <= named <= MOST_NAMED:
            expected = f"mass fractions that add up to {LEAST_NAMED:g} to {MOST_NAMED:g}"
            raise ma.ValidationError(expected, "parts")


def _metres(inches: float) -> float:
    return inches * INCH_M


class ObservationsSchema(EitherUnit):
    """What else was seen of the contents; each is weighed together with the pairs."""

    into: ClassVar[type] = Observed
    either: tuple[Either, ...] = (
        Either(
            {
                "liquid_level_height_m": ("liquid_level_height_m", float),
                "liquid_level_height_in": ("liquid_level_height_m", _metres),
                "liquid_level_fraction": ("liquid_level_fraction", float),
            }
        ),
        Either(
            {
                "cylinder_diameter_m": ("cylinder_diameter_m", float),
                "cylinder_diameter_in": ("cylinder_diameter_m", _metres),
            }
        ),
    )

    liquid_level_height_m = number(
        Within(0, 3),
        metadata={"description": "of the line on the wall above the floor, the cylinder standing"},
    )
    liquid_level_height_in = number(Within(0, 120))
    liquid_level_fraction = number(Within(0, 1), metadata={"description": "of the volume"})
    cylinder_diameter_m = number(
        Within(0.05, 2), metadata={"description": "outer; the usual one of such a cylinder, if not stated"}
    )
    cylinder_diameter_in = number(Within(2, 80))

    combustible_gas_found = Truth(
        metadata={"description": "whether a combustible-gas detector at the valve sounded"}
    )
    analyser = ma.fields.Nested(CompositionSchema)
    laboratory = ma.fields.Nested(CompositionSchema)


class VerdictArgs(Strict):
    """Query of a verdict."""

    into = VerdictQuery

    explain = Truth(load_default=False, metadata={"description": "add every prior and likelihood"})
    chart = Truth(load_default=False, metadata={"description": "add what is needed to draw it"})


class VerdictRequestSchema(EitherUnit):
    """Pairs, and what is known of the cylinder."""

    into = VerdictRequest
    either = (AMBIENT,)

    pairs = ma.fields.List(
        ma.fields.Nested(EvidenceSchema), required=True, validate=validate.Length(1, LARGEST_EVIDENCE)
    )
    elevation_m = number(ELEVATION_M, load_default=None)
    ambient_pressure_kpa = number(AMBIENT_KPA, load_default=None)
    claimed_designation = Text(longest=40)
    cylinder = ma.fields.Nested(CylinderFactsSchema)
    observations = ma.fields.Nested(ObservationsSchema)
    prior = Text(validate=Among(["field", "flat"]), load_default="field")
