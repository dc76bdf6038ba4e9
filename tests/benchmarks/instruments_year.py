"""A simulated year of a shop: sets of a thermometer and a gauge with hidden errors, some wrong, some dropped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from service.verdict.instruments import belief as beliefs
from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.checks import (
    ICE_BATH_K,
    ICE_POINT_K,
    OPEN_AIR_PA,
    ice_bath,
    learned,
    open_air,
)
from service.verdict.instruments.classes import (
    DEVICES,
    DRIFT_PER_MONTH,
    MONTH_S,
    TAIL_FACTOR,
    TAIL_SHARE,
    InstrumentClass,
)
from service.verdict.model import CylinderFacts, Pair
from tests.benchmarks.truth_cylinders import Cylinder

GRADE = InstrumentClass(0.3, 1e3, 0.005)
NOISE_K, NOISE_PA = 0.05, 300.0
MONTHS = 12.0
DROP_MONTH = 6.0
WRONG_BY = 4.0
"""How far the wrong and the dropped ones are off, of their class [-]."""
LABELLED = 0.7
"""Share of the cylinders that carry a label; nine in ten are right [-]."""
_KINDS = ("usual", "usual", "usual", "wrong thermometer", "wrong gauge", "dropped", "checked")


@dataclass(slots=True)
class Set:
    """
    One thermometer with one gauge.

    Parameters
    ----------
    kind : str
        usual, checked (by hand at the start and in month six), wrong from the start, dropped, or as stated: as far off
        as the belief takes instruments to be.
    errors : ndarray[3]
        True ones, in the order of `classes.ERRORS`.
    belief : ErrorBelief
        What is believed of them.
    month : float
        When it was last brought up to date.
    """

    kind: str
    errors: np.ndarray
    belief: ErrorBelief
    month: float = 0.0
    since_drop: int = 0
    doubted_after: int | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One settled pair: who read which cylinder when, and what better instruments would have shown."""

    month: float
    who: int
    cylinder: Cylinder
    pair: Pair
    better: Pair
    facts: CylinderFacts


def draw_sets(rng: np.random.Generator, count: int, *, stated: bool = False) -> list[Set]:
    """Sets with errors drawn from their class, and a part of them far outside: by kind, or as often as is believed."""
    sets = []
    for i in range(count):
        if stated:
            tail = np.where(rng.random(2) < TAIL_SHARE, TAIL_FACTOR, 1.0)
            far = np.where(DEVICES[0], tail[0], tail[1])
            sets.append(Set("as stated", rng.normal(0, far * GRADE.sizes), beliefs.unchecked(GRADE)))
            continue
        kind = _KINDS[i % len(_KINDS)]
        errors = rng.normal(0, GRADE.sizes)
        way = rng.choice([-1.0, 1.0])
        if kind == "wrong thermometer":
            errors[0] = way * WRONG_BY * GRADE.temp_k
        elif kind == "wrong gauge":
            errors[1:] = way * WRONG_BY * GRADE.sizes[1:]
        sets.append(Set(kind, errors, beliefs.unchecked(GRADE)))
    return sets


def advance(one: Set, month: float, rng: np.random.Generator) -> None:
    """Let errors drift, be dropped, and be checked by hand, until a time; the belief ages along."""
    for stop in (0.0, DROP_MONTH):
        if one.month <= stop < month:
            _drift(one, stop, rng)
            if one.kind == "dropped" and stop > 0:
                one.errors[0] += rng.choice([-1.0, 1.0]) * WRONG_BY * GRADE.temp_k
            if one.kind == "checked":
                shown = ICE_POINT_K + one.errors[0] + rng.normal(0, ICE_BATH_K)
                one.belief = learned(one.belief, ice_bath(shown))
                one.belief = learned(one.belief, open_air(one.errors[1] + rng.normal(0, OPEN_AIR_PA)))
    _drift(one, month, rng)


def _drift(one: Set, month: float, rng: np.random.Generator) -> None:
    passed = max(month - one.month, 0.0)
    one.errors = one.errors + rng.normal(0, DRIFT_PER_MONTH * GRADE.sizes * np.sqrt(passed))
    one.belief = beliefs.aged(one.belief, passed * MONTH_S)
    one.month = max(month, one.month)


def readings(
    sets: list[Set], cylinders: list[Cylinder], count: int, rng: np.random.Generator
) -> Iterator[Reading]:
    """Settled pairs of a year in order of time; no set reads one cylinder twice."""
    labelled = rng.random(len(cylinders)) < LABELLED
    both = rng.choice(len(sets) * len(cylinders), size=count, replace=False)
    for month, index in zip(np.sort(rng.uniform(0, MONTHS, count)), both, strict=True):
        who, which = divmod(int(index), len(cylinders))
        advance(sets[who], float(month), rng)
        cylinder = cylinders[which]
        at, noise = int(rng.integers(2)), rng.standard_normal(2)
        facts = CylinderFacts(claimed_designation=cylinder.label if labelled[which] else None)
        shown = [_shown(cylinder, at, noise, sets[who].errors, scale) for scale in (1.0, 1 / 3)]
        yield Reading(float(month), who, cylinder, shown[0], shown[1], facts)


def _shown(cylinder: Cylinder, at: int, noise: np.ndarray, errors: np.ndarray, scale: float) -> Pair:
    offset, zero, gain = scale * errors
    sizes = scale * GRADE.sizes
    pressure = float(cylinder.pressures_pa[at]) * (1 + gain) + zero + NOISE_PA * noise[1]
    return Pair(
        float(cylinder.temps_k[at] + offset + NOISE_K * noise[0]),
        max(200.0, float(pressure)),
        NOISE_K,
        NOISE_PA,
        float(sizes[0]),
        float(sizes[1]),
        float(sizes[2]),
        temperature_device="clamp",
        pressure_device="gauge",
    )


def true_combination_k(one: Set) -> float:
    """The whole error of a set at the pressure where beliefs sum it up, as a temperature [K]."""
    certain = replace(
        one.belief,
        errors=replace(one.belief.errors, mean=np.tile(one.errors, (one.belief.errors.weight.size, 1))),
    )
    return certain.combined_k()[0]
