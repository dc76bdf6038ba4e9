"""Schemas for verdicts: the call that everything rests on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import ClassVar

import marshmallow as ma
from marshmallow import validate

from service.api.answers import Answer, Sparse
from service.api.fields import Among, Instant, Number, Text, Truth, Whole, Within
from service.api.open_shapes import Document, air, chart
from service.api.quantities import (
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
    Quantity,
    celsius,
    fahrenheit,
    fahrenheit_degrees,
    kelvins,
    kpa,
    mass,
    number,
    psi,
)
from service.api.schemas.common import device_name
from service.api.schemas.money import StakeSchema
from service.api.strict import Strict
from service.cylinders.money import Stake
from service.operations.observing import Measured, Observed, Part
from service.operations.readings import Reading
from service.operations.stateless import Evidence
from service.units import pa_from_kpa
from service.verdict.document import plain
from service.verdict.look_alike_book import HAZARDS
from service.verdict.model import (
    Alternative,
    Candidate,
    Claim,
    Contamination,
    ContentsState,
    DetectionLimit,
    Disposition,
    Identity,
    LookAlike,
    LookAlikeGroup,
    NextMeasurement,
    ReadsTheSame,
    Verdict,
)
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
    return inches * M_PER_INCH


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


class CandidateSchema(Answer):
    """One designation of the 95 % set."""

    of = Candidate

    designation = Text(required=True)
    probability = Number(required=True)
    saturation_temperature_c = Quantity(celsius, "saturation_temp_k", required=True, allow_none=True)
    saturation_temperature_f = Quantity(fahrenheit, "saturation_temp_k", required=True, allow_none=True)
    temperature_difference_k = Quantity(kelvins, "temp_difference_k", required=True, allow_none=True)
    temperature_difference_f = Quantity(
        fahrenheit_degrees, "temp_difference_k", required=True, allow_none=True
    )
    states = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class IdentitySchema(Answer):
    """Which refrigerant."""

    of = Identity

    finding = Text(required=True, metadata={"enum": ["identified", "narrowed", "unrecognised"]})
    candidates = ma.fields.List(ma.fields.Nested(CandidateSchema), required=True)


class DetectionLimitSchema(Sparse):
    """The smallest amount that this evidence would have shown; none: pressure cannot see it."""

    of = DetectionLimit

    contaminant = Text(required=True)
    partial_pressure_kpa = Quantity(kpa, "partial_pressure_pa", allow_none=True)
    partial_pressure_psi = Quantity(psi, "partial_pressure_pa", allow_none=True)
    mass_fraction = Number(allow_none=True)
    note = Text(allow_none=True)


class ContaminationSchema(Answer):
    """What besides one refrigerant."""

    of = Contamination

    finding = Text(
        required=True, metadata={"enum": ["none-detected", "air", "shifted", "mixed", "undecided"]}
    )
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)
    air_partial_pressure_kpa = Quantity(kpa, "air_partial_pressure_pa", required=True, allow_none=True)
    air_partial_pressure_psi = Quantity(psi, "air_partial_pressure_pa", required=True, allow_none=True)
    air = Document(air, required=True, allow_none=True)
    partners = ma.fields.List(Document(plain), required=True)
    detection_limits = ma.fields.List(ma.fields.Nested(DetectionLimitSchema), required=True)


class FindingSchema(Answer):
    """A finding with its probabilities."""

    of = ContentsState

    finding = Text(required=True)
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class ClaimSchema(Answer):
    """The label against the readings; a contradicted one is outside their 95 % set."""

    of = Claim

    designation = Text(required=True)
    finding = Text(required=True, metadata={"enum": ["supported", "possible", "contradicted"]})
    probability = Number(required=True)
    clean = Number(required=True)


class LookAlikeSchema(Answer):
    """One content that reads the same, by the mass fractions of its refrigerants."""

    of = LookAlike

    mass_fractions = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class LookAlikeGroupSchema(Answer):
    """Contents of one hazard that read the same, and what tells them apart."""

    of = LookAlikeGroup

    hazard = Text(required=True, metadata={"enum": list(HAZARDS)})
    count = Whole(required=True)
    examples = ma.fields.List(ma.fields.Nested(LookAlikeSchema), required=True)
    told_by = ma.fields.List(Text(metadata={"enum": list(TOLD_BY)}), required=True)


class ReadsTheSameSchema(Answer):
    """What else the readings agree with, the worst hazard first; loud where nobody vouches for the cylinder."""

    of = ReadsTheSame

    designation = Text(required=True)
    loud = Truth(required=True)
    groups = ma.fields.List(ma.fields.Nested(LookAlikeGroupSchema), required=True)


class DispositionSchema(Answer):
    """What to do with the cylinder."""

    of = Disposition

    code = Text(required=True)
    text = Text(required=True, longest=2000)
    expected_costs = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class MeasurementSchema(Answer):
    """One more measurement, and what it is expected to tell."""

    of: ClassVar[type] = Alternative

    action = Text(required=True)
    code = Text(required=True)
    temperature_c = Quantity(celsius, "temp_k", required=True, allow_none=True)
    temperature_f = Quantity(fahrenheit, "temp_k", required=True, allow_none=True)
    expected_information_bits = Number(required=True)


class NextMeasurementSchema(MeasurementSchema):
    """The one more measurement that tells most."""

    of = NextMeasurement

    alternatives = ma.fields.List(ma.fields.Nested(MeasurementSchema), required=True)


class VerdictSchema(Sparse):
    """What the pairs say, and what they could not have seen."""

    of: ClassVar[type] = Verdict

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
    explain = Document(plain)
    chart = Document(chart)


@dataclass(frozen=True, slots=True)
class VerdictOn:
    """A verdict on a cylinder; ``verdict`` has the disposition of the cylinder's judgement where that is asked for."""

    id: int
    cylinder: str
    epoch: int
    pair: int | None
    reached_at: datetime
    verdict: Verdict
    stake: Stake | None = None


class StoredVerdictSchema(VerdictSchema):
    """A verdict on a cylinder."""

    of = VerdictOn
    inside = "verdict"

    id = Whole(required=True)
    cylinder = Text(required=True)
    epoch = Whole(required=True)
    pair = Whole(required=True, allow_none=True)
    reached_at = Instant(required=True)


class NewestVerdictSchema(StoredVerdictSchema):
    """The newest verdict on a cylinder, with the money at stake."""

    stake = ma.fields.Nested(StakeSchema, required=True)
