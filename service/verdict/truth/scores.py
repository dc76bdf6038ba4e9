"""Verdicts weighed against what turned out: right first, coverage, log score, Brier score, reliability.

Both scores are proper: only the probability that one believes scores best on the average. Log score: I. J. Good,
J. R. Stat. Soc. B 14 (1952) 107. Brier score over all designations: G. W. Brier, Mon. Weather Rev. 78 (1950) 1.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from service.codes import ContaminationFinding
from service.verdict.believed import LEAST
from service.verdict.model import CONTAMINATIONS
from service.verdict.truth.intervals import Proportion, proportion

EDGES: Final = (0.0, 0.5, 0.7, 0.9, 0.97, 1.0)
"""Bins of a stated probability: few, since cases are few (a choice) [-]."""
CONTAMINATED: Final = CONTAMINATIONS[1:]
"""Findings that accuse a cylinder."""


@dataclass(frozen=True, slots=True)
class Stated:
    """
    A verdict as far as it is scored.

    Parameters
    ----------
    designations : Mapping[str, float]
        Probability of each; what they leave to one is something outside the catalogue [-].
    contaminated : float
        Probability of air, vapor loss or another refrigerant [-].
    listed : tuple of str
        The 95 % set, likeliest first.
    identity, contamination : str
        Findings.
    """

    designations: Mapping[str, float]
    contaminated: float
    listed: tuple[str, ...]
    identity: str
    contamination: str

    @property
    def first(self) -> float:
        """Probability of the likeliest designation [-]."""
        return max(self.designations.values(), default=0.0)


@dataclass(frozen=True, slots=True)
class Case:
    """
    What was stated, and what turned out.

    Parameters
    ----------
    stated : Stated
        Before anybody knew.
    designation : str or None
        What it was; None for what is not in the catalogue.
    state : str or None
        none, air, shifted, mixed; None where that did not turn out.
    is_named : bool
        Whether it turned out which refrigerant it was; a rejection often tells only what was wrong with it.
    """

    stated: Stated
    designation: str | None
    state: str | None
    is_named: bool = True

    @property
    def probability(self) -> float:
        """What the verdict gave to what turned out, at least `LEAST`, below which verdicts keep nothing [-]."""
        told = self.stated.designations
        given = 1 - sum(told.values()) if self.designation is None else told.get(self.designation, 0.0)
        return min(1.0, max(LEAST, given))

    @property
    def right_first(self) -> bool:
        """Whether the likeliest was what turned out."""
        told = self.stated.designations
        return bool(told) and max(told, key=lambda name: told[name]) == self.designation

    @property
    def covered(self) -> bool:
        """Whether what turned out was in the 95 % set."""
        return self.designation in self.stated.listed

    @property
    def log_score(self) -> float:
        """Logarithm of the probability of what turned out: 0 at best [nat]."""
        return math.log(self.probability)

    @property
    def brier(self) -> float:
        """Squared distance of all stated probabilities from what turned out: 0 at best, 2 at worst [-]."""
        told = self.stated.designations
        names = [*told, None] if self.designation is None or self.designation in told else [
            *told, self.designation, None,
        ]  # fmt: skip
        rest = max(0.0, 1 - sum(told.values()))
        given = [rest if name is None else told.get(name, 0.0) for name in names]
        return sum((p - (name == self.designation)) ** 2 for p, name in zip(given, names, strict=True))

    @property
    def is_contaminated(self) -> bool | None:
        """Whether it turned out contaminated; None where that did not turn out."""
        return None if self.state is None else self.state in CONTAMINATED


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with its standard error [-]; None where there are too few cases for it."""

    mean: float | None
    standard_error: float | None


@dataclass(frozen=True, slots=True)
class Summary:
    """
    Some cases together.

    Parameters
    ----------
    cases : int
        How many turned out to be a refrigerant, or none of the catalogue.
    right_first, covered : Proportion
        Of these.
    stated_first : float or None
        Mean probability that the verdicts gave to their likeliest: what `right_first` should be [-].
    log_score, brier : Mean
        Of designations.
    contamination_brier : Mean
        Of the probability of any contamination, over those of which that turned out, whether a refrigerant was named
        or not: 0 at best, 1 at worst.
    clean_accused : Proportion
        Of those without: called contaminated.
    contamination_missed : Proportion
        Of those with: called none-detected.
    """

    cases: int
    right_first: Proportion
    covered: Proportion
    stated_first: float | None
    log_score: Mean
    brier: Mean
    contamination_brier: Mean
    clean_accused: Proportion
    contamination_missed: Proportion


def summary(cases: Sequence[Case]) -> Summary:
    """Score some cases together."""
    known = [one for one in cases if one.state is not None]
    cases = [one for one in cases if one.is_named]
    clean = [one.stated.contamination for one in known if not one.is_contaminated]
    dirty = [one.stated.contamination for one in known if one.is_contaminated]
    return Summary(
        cases=len(cases),
        right_first=proportion(sum(one.right_first for one in cases), len(cases)),
        covered=proportion(sum(one.covered for one in cases), len(cases)),
        stated_first=_mean([one.stated.first for one in cases]).mean,
        log_score=_mean([one.log_score for one in cases]),
        brier=_mean([one.brier for one in cases]),
        contamination_brier=_mean(
            [(one.stated.contaminated - float(bool(one.is_contaminated))) ** 2 for one in known]
        ),
        clean_accused=proportion(sum(finding in CONTAMINATED for finding in clean), len(clean)),
        contamination_missed=proportion(
            sum(finding == ContaminationFinding.NONE_DETECTED for finding in dirty), len(dirty)
        ),
    )


def by(cases: Sequence[Case], key: Callable[[int], str | None]) -> dict[str, Summary]:
    """Score cases in groups, the largest first; ``key`` names the group of a case by its place, None leaves it out."""
    groups: dict[str, list[Case]] = {}
    for index, case in enumerate(cases):
        name = key(index)
        if name is not None:
            groups.setdefault(name, []).append(case)
    return {name: summary(groups[name]) for name in sorted(groups, key=lambda one: (-len(groups[one]), one))}


@dataclass(frozen=True, slots=True)
class Bin:
    """Verdicts that gave their likeliest designation a probability from low to high [-], and how often it was right."""

    low: float
    high: float
    stated: float
    right: Proportion


def reliability(cases: Sequence[Case]) -> tuple[Bin, ...]:
    """Stated against observed frequency, one probability a case so that cases stay independent; no empty bins."""
    found = []
    named = [one for one in cases if one.is_named]
    for low, high in pairwise(EDGES):
        inside = [one for one in named if low <= one.stated.first < high or one.stated.first == high == 1.0]
        if inside:
            stated = sum(one.stated.first for one in inside) / len(inside)
            right = proportion(sum(one.right_first for one in inside), len(inside))
            found.append(Bin(low, high, stated, right))
    return tuple(found)


def _mean(values: Sequence[float]) -> Mean:
    if not values:
        return Mean(None, None)
    mean = sum(values) / len(values)
    if len(values) < 2:
        return Mean(mean, None)
    spread = math.sqrt(sum((one - mean) ** 2 for one in values) / (len(values) - 1))
    return Mean(mean, spread / math.sqrt(len(values)))
