"""How likely each outcome of a measurement is under each class of hypotheses: one joint table for each measurement.

A pair's outcome is a pressure, the scale's a liquid fraction, the detector's a yes or no, the level's a line on the
wall, the analyser's a composition. Biases of instruments that are used again stay what they are, and the residuals so
far already tell of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev, information_gain
from service.verdict.evidence import cross_covariances, variances
from service.verdict.hypotheses import TOLD_AS, HypothesisSpace
from service.verdict.model import Pair
from service.verdict.observations import ANALYSER_TRUST, ANALYSER_UNCERTAINTY
from service.verdict.observing import ObservationBook
from service.verdict.posterior import Posterior

Floats = NDArray[np.float64]

RANKED = 11
"""Designations that are told apart; all others are one class."""
LEVEL_UNCERTAINTY = 0.05
"""Standard uncertainty of a liquid fraction found by hand (a judgement) [-]."""
_MOST_ROWS = 2000
"""Most hypotheses over which an outcome is computed, the likeliest (a choice)."""
_LEAST = 1e-6
"""Hypotheses with less probability are left out (a choice) [-]."""
_VAPOUR_POWER = 1.2
"""Exponent of temperature by which the pressure of vapor alone is expected to rise: a little more than the 1 of an
ideal gas (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Leading:
    """
    The rows that matter, their classes, and vapor alone, which is class 0.

    Parameters
    ----------
    index : ndarray[rows]
        Place in the space.
    weight : ndarray[rows]
        Probability [-].
    label : ndarray[rows]
        Class, 1 + state + states * rank.
    ranked : ndarray
        Designations by probability, the first `RANKED` at most.
    rank : ndarray[n]
        Of each designation; what is not ranked shares the last.
    states : int
        How many states there are.
    vapour : float
        Probability of no liquid [-].
    """

    index: NDArray[np.intp]
    weight: Floats
    label: NDArray[np.intp]
    ranked: NDArray[np.intp]
    rank: NDArray[np.intp]
    states: int
    vapour: float

    @property
    def classes(self) -> int:
        """Number of classes, vapor alone among them."""
        return 1 + (self.ranked.size + 1) * self.states

    def by_designation(self) -> Floats:
        """Sums [answers, classes] of 0 and 1 [-] that ask which designation; the first answer is vapor alone."""
        return _sums(np.repeat(np.arange(self.ranked.size + 1), self.states))

    def by_state(self) -> Floats:
        """Sums [answers, classes] of 0 and 1 [-] that ask which state; the first answer is vapor alone."""
        return _sums(np.tile(np.arange(self.states), self.ranked.size + 1))


def _sums(answer: NDArray[np.intp]) -> Floats:
    return np.eye(int(answer.max()) + 2)[:, np.append(0, 1 + answer)]


def leading(posterior: Posterior, space: HypothesisSpace) -> Leading:
    """The rows of a posterior that matter."""
    some = np.flatnonzero(posterior.weight > _LEAST)
    if some.size > _MOST_ROWS:
        some = some[np.argpartition(posterior.weight[some], -_MOST_ROWS)[-_MOST_ROWS:]]
    index, weight = posterior.kept[some], posterior.weight[some].astype(np.float64)
    n, states = len(space.designations), len(space.states)
    total = np.bincount(space.row_designation[index], weights=weight, minlength=n)
    ranked = np.argsort(-total, kind="stable")[: min(RANKED, int((total > 0.0).sum()))]
    rank = np.full(n, ranked.size, dtype=np.intp)
    rank[ranked] = np.arange(ranked.size)
    label = 1 + space.row_state[index] + states * rank[space.row_designation[index]]
    vapour = float(posterior.by_state["vapour-only"].sum())
    return Leading(index, weight, label, ranked, rank, states, vapour)


def of_pairs(
    found: Leading, posterior: Posterior, space: HypothesisSpace, pairs: Sequence[Pair], new: Sequence[Pair]
) -> Floats:
    """Joint tables [new, classes, outcomes] of probability [-] of one more pair each, after `pairs`."""
    evidence = posterior.evidence
    temps = np.array([pair.temp_k for pair in new])
    rows = space.coefficients[found.index].astype(np.float64) + space.reference
    residual = evidence.log_pressure - rows @ chebyshev.values(evidence.temp_k)
    predicted = rows @ chebyshev.values(temps)
    weight, total = found.weight, max(float(found.weight.sum()), 1e-300)
    variance = float(weight @ space.variance[found.index]) / total
    typical_row = weight @ rows / total
    typical = np.exp(weight @ predicted / total)
    new_slopes, slopes = (
        typical_row @ chebyshev.slopes(temps),
        typical_row @ chebyshev.slopes(evidence.temp_k),
    )
    inverse = np.linalg.inv(evidence.covariance(slopes, variance))
    pressure_cross, temp_cross = cross_covariances(pairs, new, typical)
    cross = pressure_cross + new_slopes[:, None] * slopes * temp_cross + variance
    coupling = cross @ inverse
    own = variances(new, typical, new_slopes) + variance
    spread = np.sqrt(np.maximum(own - (cross * coupling).sum(axis=1), 1e-12))
    mean = np.empty((len(new), weight.size + 1))
    mean[:, :-1] = predicted.T + coupling @ residual.T
    mean[:, -1] = evidence.log_pressure[0] + _VAPOUR_POWER * np.log(temps / evidence.temp_k[0])
    return information_gain.joint_of_readings(
        mean, np.append(weight, found.vapour), np.append(found.label, 0), spread, found.classes
    )


def of_weight(found: Leading, posterior: Posterior, space: HypothesisSpace) -> Floats:
    """Joint table [classes, liquid fractions] [-]; states whose curve ignores the fraction keep its prior."""
    joint = np.zeros((found.classes, space.fill.nodes.size + 1))
    ranks = found.ranked.size + 1
    for state, block in space.blocks.items():
        rows, weight = posterior.of_block(block)
        index = np.unravel_index(rows, block.shape)
        rank = found.rank[index[0]]
        if state in ("none", "oily"):
            by_fill = _sums_by(rank, index[1], weight, (ranks, space.fill.nodes.size))
        elif state in ("air", "oily-air"):
            by_air_fill = _sums_by(rank, index[2], weight, (ranks, space.air_fill.nodes.size))
            by_fill = by_air_fill @ space.air_fill.spread_over(space.fill)
        else:
            by_fill = np.bincount(rank, weight, ranks)[:, None] * space.fill.mass
        place = space.states.index(TOLD_AS.get(state, state))
        joint[1 + place :: found.states, :-1] += by_fill
    joint[0, -1] = found.vapour
    return joint


def _sums_by(
    first: NDArray[np.intp], second: NDArray[np.intp], weight: NDArray[np.float32], shape: tuple[int, int]
) -> Floats:
    """Sums of weights [shape] by two indices of each."""
    flat = first * shape[1] + second
    return np.bincount(flat, weight, shape[0] * shape[1]).astype(np.float64).reshape(shape)


def of_detector(found: Leading, book: ObservationBook) -> Floats:
    """Joint table [classes, silent or not] of a combustible-gas detector [-]."""
    sounds = found.weight * book.row_sounds[found.index]
    joint = np.empty((found.classes, 2))
    joint[:, 1] = np.bincount(found.label, sounds, found.classes)
    joint[:, 0] = np.bincount(found.label, found.weight, found.classes) - joint[:, 1]
    joint[0] = found.vapour / 2
    return joint


def of_level(found: Leading, book: ObservationBook, density_kg_m3: float) -> Floats:
    """Joint table [classes, liquid fractions] of a level seen beside a known density of the contents [-]."""
    expected = np.clip(book.row_level(found.index, density_kg_m3), 0.0, 1.0)
    tables = information_gain.joint_of_readings(
        np.append(expected, 0.0)[None, :],
        np.append(found.weight, found.vapour),
        np.append(found.label, 0),
        np.array([LEVEL_UNCERTAINTY]),
        found.classes,
    )
    return np.asarray(tables[0])


def of_analyser(found: Leading, space: HypothesisSpace, book: ObservationBook) -> Floats:
    """
    Joint table [classes, compositions] of an analyser [-].

    Compositions that it cannot tell apart are one; the result is wrong as often as analysers are, and then says
    anything.
    """
    outcome = book.row_composition(space, found.index, 2 * ANALYSER_UNCERTAINTY)
    outcomes = int(outcome.max(initial=0)) + 2
    right = np.bincount(found.label * outcomes + outcome, found.weight, found.classes * outcomes)
    joint = right.reshape(found.classes, outcomes)
    joint[0, -1] = found.vapour
    total = max(float(joint.sum()), 1e-300)
    by_chance = joint.sum(axis=1)[:, None] * joint.sum(axis=0) / total
    return np.asarray(ANALYSER_TRUST * joint + (1.0 - ANALYSER_TRUST) * by_chance)
