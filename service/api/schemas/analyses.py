"""Schemas for what cylinders turned out to hold."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Among, Instant, Number, Text, Truth, Whole, Within, listed
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.quantities import EitherUnit, number
from service.api.schemas.common import serial
from service.api.schemas.verdicts import CompositionSchema
from service.operations.analyses import KINDS, STATES
from service.operations.observing import Measured

PERCENT = Within(0, 100)
PPM = Within(0, 1_000_000)
OF_STATE = {"description": "none, or what was with it: air, shifted (vapor was lost), mixed"}


@dataclass(frozen=True, slots=True)
class AnalysisBody:
    """A result as posted."""

    cylinder: str
    kind: str
    designation: str | None = None
    contamination: str | None = None
    composition: Measured | None = None
    other_refrigerants_percent: float | None = None
    non_condensables_percent: float | None = None
    moisture_ppm: float | None = None
    acid_ppm: float | None = None
    oil_percent: float | None = None
    method: str | None = None
    laboratory: str | None = None
    number: str | None = None
    note: str | None = None
    at: datetime | None = None


@dataclass(frozen=True, slots=True)
class PartTold:
    """One refrigerant of a composition."""

    designation: str
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class ScoreTold:
    """The verdict that stood before against what turned out."""

    verdict: int
    probability: float
    right_first: bool
    covered: bool
    log_score: float
    brier_score: float


@dataclass(frozen=True, slots=True)
class AnalysisTold:
    """A result as kept."""

    id: int
    cylinder: str
    epoch: int
    kind: str
    designation: str | None
    contamination: str | None
    composition: Sequence[PartTold]
    mass_fraction_uncertainty: float | None
    non_condensables_percent: float | None
    moisture_ppm: float | None
    acid_ppm: float | None
    oil_percent: float | None
    method: str | None
    laboratory: str | None
    number: str | None
    note: str | None
    score: ScoreTold | None
    at: datetime
    recorded_at: datetime
    recorded_by: str


class NewAnalysisSchema(EitherUnit):
    """What a cylinder turned out to hold: a designation, a composition by mass, or at least what was with it."""

    into = AnalysisBody

    cylinder = serial(required=True)
    kind = Text(required=True, validate=Among(KINDS))
    designation = Text(longest=60)
    contamination = Text(validate=Among(STATES), metadata=OF_STATE)
    composition = ma.fields.Nested(CompositionSchema)
    other_refrigerants_percent = number(PERCENT)
    non_condensables_percent = number(PERCENT)
    moisture_ppm = number(PPM)
    acid_ppm = number(PPM)
    oil_percent = number(PERCENT)
    method = Text(longest=120)
    laboratory = Text(longest=200)
    number = Text(longest=80)
    note = Text(longest=1000)
    at = Instant()


class AnalysisPartSchema(Answer):
    """One refrigerant of a composition."""

    of = PartTold

    designation = Text(required=True)
    mass_fraction = Number(required=True)


class AnalysisScoreSchema(Answer):
    """The verdict that stood before against what turned out."""

    of = ScoreTold

    verdict = Whole(required=True)
    probability = Number(required=True)
    right_first = Truth(required=True)
    covered = Truth(required=True)
    log_score = Number(required=True)
    brier_score = Number(required=True)


class AnalysisSchema(Answer):
    """A result with what it established, and the score of the verdict that stood before."""

    of = AnalysisTold

    id = Whole(required=True)
    cylinder = Text(required=True)
    epoch = Whole(required=True)
    kind = Text(required=True, metadata=listed(KINDS))
    designation = Text(required=True, allow_none=True)
    contamination = Text(required=True, allow_none=True, metadata=listed(STATES, or_null=True))
    composition = ma.fields.List(ma.fields.Nested(AnalysisPartSchema), required=True)
    mass_fraction_uncertainty = Number(required=True, allow_none=True)
    non_condensables_percent = Number(required=True, allow_none=True)
    moisture_ppm = Number(required=True, allow_none=True)
    acid_ppm = Number(required=True, allow_none=True)
    oil_percent = Number(required=True, allow_none=True)
    method = Text(required=True, allow_none=True)
    laboratory = Text(required=True, allow_none=True)
    number = Text(required=True, allow_none=True)
    note = Text(required=True, allow_none=True)
    score = ma.fields.Nested(AnalysisScoreSchema, required=True, allow_none=True)
    at = Instant(required=True)
    recorded_at = Instant(required=True)
    recorded_by = Text(required=True)


class AnalysisArgs(PageArgs):
    """Query of results."""

    into = OfCylinder

    cylinder = serial(load_default=None)
