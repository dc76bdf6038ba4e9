"""Pressures that laboratories measured, and how far the equation of state lies from them."""

import csv
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from math import log
from pathlib import Path
from statistics import median

from service.refrigerants.composition import Composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.refrigerants.fluids import LEFT_OUT

DATA = Path(__file__).parents[1] / "outside" / "data"
NOT_COUNTED = ("liquid-liquid", "scattered", "maybe-swapped")
"""Flags of papers that contradict themselves: they say nothing of the equation."""
MISSED_END = 0.01
"""Relative deviation of a pure fluid's pressures in a paper from which on its mixtures are not counted [-]."""


@dataclass(frozen=True)
class Point:
    """One measured bubble point: components, mole fraction of the first [-], [K], [Pa], the paper."""

    components: tuple[str, ...]
    first: float
    temp_k: float
    pressure_pa: float
    doi: str

    @property
    def subject(self) -> str:
        """``R-32+R-125``, or the pure fluid alone."""
        return "+".join(self.components)

    @property
    def mid(self) -> float:
        """4 x (1 - x): one at mid composition, nought for a pure fluid [-]."""
        return 4 * self.first * (1 - self.first)


@dataclass(frozen=True)
class Residual:
    """A point and ln(measured / modelled) [-]."""

    point: Point
    log_ratio: float


def _rows(name: str) -> Iterator[dict[str, str]]:
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    yield from csv.DictReader(line for line in lines if not line.startswith("#"))


def points() -> list[Point]:
    """All measured points that count; the pure ends of a binary's paper are points of the pure fluid."""
    found = [
        Point((row["designation"],), 1.0, float(row["temp_k"]), 1e3 * float(row["pressure_kpa"]), row["doi"])
        for row in _rows("measured_pure.csv")
    ]
    for row in _rows("measured_pairs.csv"):
        if any(flag in row["flags"] for flag in NOT_COUNTED):
            continue
        pair, first = (row["first"], row["second"]), float(row["mole_fraction_first"])
        parts = pair if 0.0 < first < 1.0 else (pair[0] if first >= 1.0 else pair[1],)
        found.append(Point(parts, first, float(row["temp_k"]), 1e3 * float(row["pressure_kpa"]), row["doi"]))
    return [point for point in found if not LEFT_OUT.keys() & set(point.components)]


@cache
def _equation(components: tuple[str, ...]) -> EquationOfState:
    share = 1.0 / len(components)
    return EquationOfState(Composition(components, (share,) * len(components)))


def residuals(wanted: Iterable[Point]) -> list[Residual]:
    """Each point against the equation of state; points that it does not solve are left out."""
    found = []
    for point in wanted:
        equation = _equation(point.components)
        if len(point.components) > 1:
            equation.set_mole_fractions((point.first, 1.0 - point.first))
        try:
            modelled = equation.bubble(point.temp_k).pressure_pa
        except (NoConvergence, ValueError):
            continue
        found.append(Residual(point, log(point.pressure_pa / modelled)))
    return found


def without_lame_papers(found: Iterable[Residual]) -> list[Residual]:
    """Leave out mixtures of a paper that misses a pure end of its own by `MISSED_END`: it says nothing of the pair."""
    ends: dict[tuple[str, str], list[float]] = defaultdict(list)
    kept = list(found)
    mixed = {one.point.doi for one in kept if len(one.point.components) > 1}
    for one in kept:
        if len(one.point.components) == 1 and one.point.doi in mixed:
            ends[one.point.doi, one.point.subject].append(one.log_ratio)
    lame = {key for key, ratios in ends.items() if abs(median(ratios)) > MISSED_END}
    return [
        one
        for one in kept
        if len(one.point.components) == 1
        or not any((one.point.doi, name) in lame for name in one.point.components)
    ]


def by_subject(found: Iterable[Residual]) -> dict[str, dict[str, list[Residual]]]:
    """Residuals by fluid or pair, then by paper."""
    sorted_in: dict[str, dict[str, list[Residual]]] = defaultdict(lambda: defaultdict(list))
    for one in found:
        sorted_in[one.point.subject][one.point.doi].append(one)
    return {subject: dict(papers) for subject, papers in sorted(sorted_in.items())}
