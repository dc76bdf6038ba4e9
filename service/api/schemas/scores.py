"""Schemas for how right verdicts have been."""

from collections.abc import Sequence
from dataclasses import dataclass

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Among, Number, Text, Whole
from service.api.http.strict import Strict
from service.operations.analyses import KINDS
from service.operations.scores import Prevalent
from service.verdict.truth.intervals import Proportion
from service.verdict.truth.scores import Bin, Mean, Summary


@dataclass(frozen=True, slots=True)
class ScoresQuery:
    """Query of scores."""

    kind: str | None


@dataclass(frozen=True, slots=True)
class GroupTold:
    """Scores of one group, by name."""

    name: str
    scores: Summary


@dataclass(frozen=True, slots=True)
class ScoresTold:
    """All scores."""

    overall: Summary
    unscored: int
    by_identity: Sequence[GroupTold]
    by_contamination: Sequence[GroupTold]
    by_refrigerant: Sequence[GroupTold]
    by_instrument_class: Sequence[GroupTold]
    by_kind: Sequence[GroupTold]
    reliability: Sequence[Bin]
    prevalence: Sequence[Prevalent]


class ScoresArgs(Strict):
    """Query of scores."""

    into = ScoresQuery

    kind = Text(load_default=None, validate=Among(KINDS))


class ProportionSchema(Answer):
    """So many of so many, with the 95 % interval of the share behind it (Wilson, 1927)."""

    of = Proportion

    count = Whole(required=True)
    cases = Whole(required=True, attribute="of")
    share = Number(required=True, allow_none=True)
    low = Number(required=True, allow_none=True)
    high = Number(required=True, allow_none=True)
    needed = Whole(required=True, allow_none=True)


class MeanScoreSchema(Answer):
    """A mean score with its standard error."""

    of = Mean

    mean = Number(required=True, allow_none=True)
    standard_error = Number(required=True, allow_none=True)


class ScoreSummarySchema(Answer):
    """Scores of some cases together."""

    of = Summary

    cases = Whole(required=True)
    right_first = ma.fields.Nested(ProportionSchema, required=True)
    covered = ma.fields.Nested(ProportionSchema, required=True)
    stated_first = Number(required=True, allow_none=True)
    log_score = ma.fields.Nested(MeanScoreSchema, required=True)
    brier_score = ma.fields.Nested(MeanScoreSchema, required=True, attribute="brier")
    contamination_brier_score = ma.fields.Nested(
        MeanScoreSchema, required=True, attribute="contamination_brier"
    )
    clean_accused = ma.fields.Nested(ProportionSchema, required=True)
    contamination_missed = ma.fields.Nested(ProportionSchema, required=True)


class ScoreGroupSchema(Answer):
    """Scores of one group."""

    of = GroupTold

    name = Text(required=True)
    scores = ma.fields.Nested(ScoreSummarySchema, required=True)


class ReliabilityBinSchema(Answer):
    """Verdicts that gave their likeliest designation such a probability, and how often it was right."""

    of = Bin

    low = Number(required=True)
    high = Number(required=True)
    stated = Number(required=True)
    right = ma.fields.Nested(ProportionSchema, required=True)


class PrevalentSchema(Answer):
    """How common a designation is taken to be before any reading."""

    of = Prevalent

    designation = Text(required=True)
    by_table = Number(required=True)
    counted = Whole(required=True)
    share = Number(required=True)


class ScoresSchema(Answer):
    """How right verdicts have been, and how little few cases say."""

    of = ScoresTold

    overall = ma.fields.Nested(ScoreSummarySchema, required=True)
    unscored = Whole(required=True)
    by_identity = ma.fields.List(ma.fields.Nested(ScoreGroupSchema), required=True)
    by_contamination = ma.fields.List(ma.fields.Nested(ScoreGroupSchema), required=True)
    by_refrigerant = ma.fields.List(ma.fields.Nested(ScoreGroupSchema), required=True)
    by_instrument_class = ma.fields.List(ma.fields.Nested(ScoreGroupSchema), required=True)
    by_kind = ma.fields.List(ma.fields.Nested(ScoreGroupSchema), required=True)
    reliability = ma.fields.List(ma.fields.Nested(ReliabilityBinSchema), required=True)
    prevalence = ma.fields.List(ma.fields.Nested(PrevalentSchema), required=True)
