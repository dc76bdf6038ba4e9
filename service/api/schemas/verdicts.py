"""Schemas for verdicts: the call that everything rests on."""

from typing import Any

import marshmallow as ma
from marshmallow import validate

from service.api.fields import Among, Instant, Number, Text, Truth, Whole, Within
from service.api.quantities import (
    ABSOLUTE_KPA,
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
    mass,
    number,
)
from service.api.schemas.common import device_name
from service.api.schemas.money import StakeSchema
from service.api.strict import Strict
from service.verdict.look_alike_book import HAZARDS
from service.verdict.observations import LEAST_NAMED, MOST_NAMED
from service.verdict.reads_the_same import PROVENANCES, TOLD_BY

M_PER_INCH = 0.0254
UNCERTAINTY_K = Within(0.0001, 50)
UNCERTAINTY_KPA = Within(0.0001, 5000)
BIAS_K = Within(0, 50)
BIAS_KPA = Within(0, 5000)
MASS_KG = Within(0, 5000)
MASS_LB = Within(0, 11_000)
LARGEST_EVIDENCE = 64


class ReadingSchema(EitherUnit):
    """A temperature and a pressure of one settled state, with their standard uncertainties (k = 1)."""

    either: tuple[Either, ...] = (Either(TEMPERATURE, required=True), Either(PRESSURE, required=True))

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


class EvidenceSchema(ReadingSchema):
    """A pair of a stateless verdict; pairs that name no device are taken to share one."""

    temperature_device = device_name()
    pressure_device = device_name()


class CylinderFactsSchema(EitherUnit):
    """What is known of the cylinder besides its pairs."""

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

    designation = Text(longest=40, required=True)
    mass_fraction = number(Within(0, 1), required=True)


class CompositionSchema(Strict):
    """What an analyser or a laboratory found, without air, and its standard uncertainty (k = 1)."""

    parts = ma.fields.List(ma.fields.Nested(PartSchema), required=True, validate=validate.Length(1, 12))
    mass_fraction_uncertainty = number(Within(0.0001, 0.5))

    @ma.validates_schema
    def whole(self, data: dict[str, Any], **_: Any) -> None:
        """Refuse parts that do not make up the contents."""
        named = sum(part["mass_fraction"] for part in data["parts"])
        if not LEAST_NAMED <= named <= MOST_NAMED:
            expected = f"mass fractions that add up to {LEAST_NAMED:g} to {MOST_NAMED:g}"
            raise ma.ValidationError(expected, "parts")


def _metres(value: float) -> float:
    return value * M_PER_INCH


class ObservationsSchema(EitherUnit):
    """What else was seen of the contents; each is weighed together with the pairs."""

    either: tuple[Either, ...] = (
        Either(
            {
                "liquid_level_height_m": ("liquid_level_height_m", float),
                "liquid_level_height_in": ("liquid_level_height_m", _metres),
                "liquid_level_fraction": ("liquid_level_fraction", float),
            },
            required=False,
        ),
        Either(
            {
                "cylinder_diameter_m": ("cylinder_diameter_m", float),
                "cylinder_diameter_in": ("cylinder_diameter_m", _metres),
            },
            required=False,
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

    explain = Truth(load_default=False, metadata={"description": "add every prior and likelihood"})
    chart = Truth(load_default=False, metadata={"description": "add what is needed to draw it"})


class VerdictRequestSchema(Strict):
    """Pairs, and what is known of the cylinder."""

    pairs = ma.fields.List(
        ma.fields.Nested(EvidenceSchema), required=True, validate=validate.Length(1, LARGEST_EVIDENCE)
    )
    elevation_m = number(ELEVATION_M, load_default=None)
    ambient_pressure_kpa = number(AMBIENT_KPA, load_default=None)
    claimed_designation = Text(longest=40)
    cylinder = ma.fields.Nested(CylinderFactsSchema)
    observations = ma.fields.Nested(ObservationsSchema)
    prior = Text(validate=Among(["field", "flat"]), load_default="field")


class CandidateSchema(ma.Schema):
    """One designation of the 95 % set."""

    designation = Text(required=True)
    probability = Number(required=True)
    saturation_temperature_c = Number(required=True, allow_none=True)
    saturation_temperature_f = Number(required=True, allow_none=True)
    temperature_difference_k = Number(required=True, allow_none=True)
    temperature_difference_f = Number(required=True, allow_none=True)
    states = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class IdentitySchema(ma.Schema):
    """Which refrigerant."""

    finding = Text(required=True, metadata={"enum": ["identified", "narrowed", "unrecognised"]})
    candidates = ma.fields.List(ma.fields.Nested(CandidateSchema), required=True)


class DetectionLimitSchema(ma.Schema):
    """The smallest amount that this evidence would have shown; none: pressure cannot see it."""

    contaminant = Text(required=True)
    partial_pressure_kpa = Number(allow_none=True)
    partial_pressure_psi = Number(allow_none=True)
    mass_fraction = Number(allow_none=True)
    note = Text(allow_none=True)


class ContaminationSchema(ma.Schema):
    """What besides one refrigerant."""

    finding = Text(
        required=True, metadata={"enum": ["none-detected", "air", "shifted", "mixed", "undecided"]}
    )
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)
    air_partial_pressure_kpa = Number(required=True, allow_none=True)
    air_partial_pressure_psi = Number(required=True, allow_none=True)
    air = ma.fields.Dict(required=True, allow_none=True)
    partners = ma.fields.List(ma.fields.Dict(), required=True)
    detection_limits = ma.fields.List(ma.fields.Nested(DetectionLimitSchema), required=True)


class FindingSchema(ma.Schema):
    """A finding with its probabilities."""

    finding = Text(required=True)
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class ClaimSchema(ma.Schema):
    """The label against the readings; a contradicted one is outside their 95 % set."""

    designation = Text(required=True)
    finding = Text(required=True, metadata={"enum": ["supported", "possible", "contradicted"]})
    probability = Number(required=True)
    clean = Number(required=True)


class LookAlikeSchema(ma.Schema):
    """One content that reads the same, by the mass fractions of its refrigerants."""

    mass_fractions = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class LookAlikeGroupSchema(ma.Schema):
    """Contents of one hazard that read the same, and what tells them apart."""

    hazard = Text(required=True, metadata={"enum": list(HAZARDS)})
    count = Whole(required=True)
    examples = ma.fields.List(ma.fields.Nested(LookAlikeSchema), required=True)
    told_by = ma.fields.List(Text(metadata={"enum": list(TOLD_BY)}), required=True)


class ReadsTheSameSchema(ma.Schema):
    """What else the readings agree with, the worst hazard first; loud where nobody vouches for the cylinder."""

    designation = Text(required=True)
    loud = Truth(required=True)
    groups = ma.fields.List(ma.fields.Nested(LookAlikeGroupSchema), required=True)


class DispositionSchema(ma.Schema):
    """What to do with the cylinder."""

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    expected_costs = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class MeasurementSchema(ma.Schema):
    """One more measurement, and what it is expected to tell."""

    action = Text(required=True)
    code = Text(required=True)
    temperature_c = Number(required=True, allow_none=True)
    temperature_f = Number(required=True, allow_none=True)
    expected_information_bits = Number(required=True)


class NextMeasurementSchema(MeasurementSchema):
    """The one more measurement that tells most."""

    alternatives = ma.fields.List(ma.fields.Nested(MeasurementSchema), required=True)


class VerdictSchema(ma.Schema):
    """What the pairs say, and what they could not have seen."""

    identity = ma.fields.Nested(IdentitySchema, required=True)
    contamination = ma.fields.Nested(ContaminationSchema, required=True)
    contents_state = ma.fields.Nested(FindingSchema, required=True)
    claim = ma.fields.Nested(ClaimSchema, required=True, allow_none=True)
    reads_the_same = ma.fields.Nested(ReadsTheSameSchema, required=True, allow_none=True)
    disposition = ma.fields.Nested(DispositionSchema, required=True)
    reasons = ma.fields.List(Text(), required=True)
    next_measurement = ma.fields.Nested(NextMeasurementSchema, required=True, allow_none=True)
    cautions = ma.fields.List(Text(), required=True)
    model_version = Text(required=True)
    explain = ma.fields.Dict()
    chart = ma.fields.Dict()


class StoredVerdictSchema(VerdictSchema):
    """A verdict on a cylinder."""

    id = Whole(required=True)
    cylinder = Text(required=True)
    epoch = Whole(required=True)
    pair = Whole(required=True, allow_none=True)
    reached_at = Instant(required=True)


class NewestVerdictSchema(StoredVerdictSchema):
    """The newest verdict on a cylinder, with the money at stake."""

    stake = ma.fields.Nested(StakeSchema, required=True)


def pressure_of(data: dict[str, Any]) -> dict[str, Any]:
    """The pressure part of a loaded reading, as ``PressureReading`` takes it."""
    ambient = data.get("ambient_pressure_kpa")
    return {
        "absolute_pa": data.get("absolute_pa"),
        "gauge_pa": data.get("gauge_pa"),
        "ambient_pa": None if ambient is None else ambient * 1000.0,
        "elevation_m": data.get("elevation_m"),
    }


def uncertainties_of(data: dict[str, Any]) -> dict[str, float | None]:
    """The uncertainties of a loaded reading, SI, by the names of ``NewPair``."""
    noise_kpa, bias_kpa = data.get("pressure_uncertainty_kpa"), data.get("pressure_bias_uncertainty_kpa")
    return {
        "temp_noise_k": data.get("temperature_uncertainty_k"),
        "pressure_noise_pa": None if noise_kpa is None else noise_kpa * 1000.0,
        "temp_bias_k": data.get("temperature_bias_uncertainty_k"),
        "pressure_bias_pa": None if bias_kpa is None else bias_kpa * 1000.0,
    }
