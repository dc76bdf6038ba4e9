"""What the settling bench counts: claims, how true they were, how late, and what was missed."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, fields

import numpy as np

from tests.benchmarks.settling_courses import Truth

LONG_ENOUGH_S = 900.0
"""A settled interval shorter than this is not counted as missed, [s]."""


def is_settled(truth: Truth) -> bool:
    """What settled means in truth: 0.25 K, 0.05 K in 30 s, no flow, some liquid."""
    return (
        abs(truth.gap_k) <= 0.25
        and abs(truth.drift_k_s) <= 0.05 / 30
        and not truth.flow
        and not truth.vapour_only
    )


def is_gross(truth: Truth) -> bool:
    """Whether a claim then would be far off."""
    return abs(truth.gap_k) > 0.5 or truth.flow or truth.vapour_only


@dataclass
class Claim:
    """One claim of settled and how good it was."""

    at_s: float
    false: bool
    gross: bool
    gap_k: float
    false_when_taken: bool = False
    gross_when_taken: bool = False
    error_k: float | None = None
    uncertainty_k: float | None = None


@dataclass
class Score:
    """What one method did over a set of runs."""

    claims: list[Claim] = field(default_factory=list)
    delays_s: list[float] = field(default_factory=list)
    missed: int = 0
    intervals: int = 0
    wrong_ticks: int = 0
    claimed_ticks: int = 0
    first_good_s: list[float] = field(default_factory=list)
    provisional: list[tuple[float, float]] = field(default_factory=list)
    vapour_claims: int = 0
    vapour_runs: int = 0
    readings: int = 0
    cpu_s: float = 0.0
    worst: list[str] = field(default_factory=list)
    told: Counter[str] = field(default_factory=Counter)
    runs: int = 0

    def take(self, claims: list[Claim], told: set[str]) -> None:
        """Take one run's claims and what it was told in it."""
        self.claims += claims
        self.told.update(told)
        self.runs += 1

    def add(self, other: Score) -> None:
        """Add what another score has counted."""
        for one in fields(self):
            mine, theirs = getattr(self, one.name), getattr(other, one.name)
            if isinstance(mine, Counter):
                mine.update(theirs)
            else:
                setattr(self, one.name, mine + theirs)

    def row(self) -> dict[str, float | int | None]:
        """Figures of merit, in percent, seconds and kelvin."""
        n = len(self.claims)
        errors = np.array([abs(c.error_k) for c in self.claims if c.error_k is not None])
        inside = [
            abs(c.error_k) <= 1.96 * c.uncertainty_k
            for c in self.claims
            if c.error_k is not None and c.uncertainty_k
        ]
        provisional = [abs(e) <= 1.96 * u for e, u in self.provisional]
        return {
            "claims": n,
            "false": sum(c.false for c in self.claims),
            "false_percent": _percent(sum(c.false for c in self.claims), n),
            "gross": sum(c.gross for c in self.claims),
            "gross_percent": _percent(sum(c.gross for c in self.claims), n),
            "time_wrong_percent": _percent(self.wrong_ticks, self.claimed_ticks),
            "intervals": self.intervals,
            "missed_percent": _percent(self.missed, self.intervals),
            "delay_median_s": _quantile(self.delays_s, 0.5),
            "delay_95_s": _quantile(self.delays_s, 0.95),
            "error_median_k": _quantile(errors, 0.5),
            "error_95_k": _quantile(errors, 0.95),
            "coverage_percent": _percent(sum(inside), len(inside)),
            "provisional_coverage_percent": _percent(sum(provisional), len(provisional)),
            "provisional_samples": len(provisional),
            "first_pair_0.3_k_median_s": _quantile(self.first_good_s, 0.5),
            "false_when_taken": sum(c.false_when_taken for c in self.claims),
            "gross_when_taken": sum(c.gross_when_taken for c in self.claims),
            "us_per_reading": 1e6 * self.cpu_s / self.readings if self.readings else None,
        }


def _percent(part: float, whole: float) -> float | None:
    return 100.0 * part / whole if whole else None


def _quantile(values: object, q: float) -> float | None:
    array = np.asarray(values, dtype=float)
    return float(np.quantile(array, q)) if array.size else None


@dataclass
class Intervals:
    """The stretches in which the truth is settled, and when each was first claimed."""

    score: Score
    since_s: float | None = None
    answered: bool = True

    def tick(self, at_s: float, good: bool, claimed: bool) -> None:
        """Take one moment."""
        if good and self.since_s is None:
            self.since_s, self.answered = at_s, False
        if not good:
            self.end(at_s)
        if claimed and self.since_s is not None and not self.answered:
            self.answered = True
            self.score.intervals += 1
            self.score.delays_s.append(at_s - self.since_s)

    def end(self, at_s: float) -> None:
        """Close the stretch; one that was long enough and never claimed was missed."""
        if self.since_s is not None and not self.answered and at_s - self.since_s >= LONG_ENOUGH_S:
            self.score.missed += 1
            self.score.intervals += 1
        self.since_s, self.answered = None, True
