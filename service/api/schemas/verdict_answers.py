"""Schemas for what a verdict says, and what it could not have seen."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

import marshmallow as ma

from service.api.http.answers import Answer, Sparse
from service.api.http.fields import Instant, Number, Text, Truth, Whole, listed
from service.api.http.open_shapes import Document, air, chart
from service.api.http.quantities import (
    Quantity,
    celsius,
    fahrenheit,
    fahrenheit_degrees,
    kelvins,
    kpa,
    psi,
)
from service.api.schemas.money import StakeSchema
from service.codes import (
    ClaimFinding,
    ContaminationFinding,
    ContentsFinding,
    DispositionCode,
    IdentityFinding,
    LookAlikeHazard,
    MeasurementCode,
    ToldBy,
)
from service.cylinders.money import Stake
from service.verdict.document import plain
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

    finding = Text(required=True, metadata=listed(IdentityFinding))
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

    finding = Text(required=True, metadata=listed(ContaminationFinding))
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)
    air_partial_pressure_kpa = Quantity(kpa, "air_partial_pressure_pa", required=True, allow_none=True)
    air_partial_pressure_psi = Quantity(psi, "air_partial_pressure_pa", required=True, allow_none=True)
    air = Document(air, required=True, allow_none=True)
    partners = ma.fields.List(Document(plain), required=True)
    detection_limits = ma.fields.List(ma.fields.Nested(DetectionLimitSchema), required=True)


class FindingSchema(Answer):
    """A finding with its probabilities."""

    of = ContentsState

    finding = Text(required=True, metadata=listed(ContentsFinding))
    probabilities = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class ClaimSchema(Answer):
    """The label against the readings; a contradicted one is outside their 95 % set."""

    of = Claim

    designation = Text(required=True)
    finding = Text(required=True, metadata=listed(ClaimFinding))
    probability = Number(required=True)
    clean = Number(required=True)


class LookAlikeSchema(Answer):
    """One content that reads the same, by the mass fractions of its refrigerants."""

    of = LookAlike

    mass_fractions = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class LookAlikeGroupSchema(Answer):
    """Contents of one hazard that read the same, and what tells them apart."""

    of = LookAlikeGroup

    hazard = Text(required=True, metadata=listed(LookAlikeHazard))
    count = Whole(required=True)
    examples = ma.fields.List(ma.fields.Nested(LookAlikeSchema), required=True)
    told_by = ma.fields.List(Text(metadata=listed(ToldBy)), required=True)


class ReadsTheSameSchema(Answer):
    """What else the readings agree with, the worst hazard first; loud where nobody vouches for the cylinder."""

    of = ReadsTheSame

    designation = Text(required=True)
    loud = Truth(required=True)
    groups = ma.fields.List(ma.fields.Nested(LookAlikeGroupSchema), required=True)


class DispositionSchema(Answer):
    """What to do with the cylinder."""

    of = Disposition

    code = Text(required=True, metadata=listed(DispositionCode))
    text = Text(required=True, longest=2000)
    expected_costs = ma.fields.Dict(keys=ma.fields.String(), values=Number(), required=True)


class MeasurementSchema(Answer):
    """One more measurement, and what it is expected to tell."""

    of: ClassVar[type] = Alternative

    action = Text(required=True)
    code = Text(required=True, metadata=listed(MeasurementCode))
    temperature_c = Quantity(celsius, "temp_k", required=True, allow_none=True)
    temperature_f = Quantity(fahrenheit, "temp_k", required=True, allow_none=True)
    expected_information_bits = Number(required=True)
    expected_cost_saved = Number(required=True)


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
