"""What a settled pair says of the errors of the set that read it, weighed by all that the cylinder may hold.

The pair's own reading must not vouch for the contents: every hypothesis is weighed by label, records and what else is
known, and by other instruments' pairs, never by what this set has read. Under each the pair would be off by its own
residual, so that a pair gives a mixture of possible errors, "none of these" among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.verdict.engine import VerdictEngine
from service.verdict.instruments.belief import ErrorBelief, used
from service.verdict.instruments.mixture import Measurement, density, update
from service.verdict.model import CylinderFacts, Pair

Floats = NDArray[np.float64]

WIDE_K = 5.0
"""Offset that the reading is granted while hypotheses are gathered; it is divided out again (a choice) [K]."""
REACH_K = 12.0
"""Errors beyond this count as none of the hypotheses (a choice) [K]."""
CELL_K = 0.1
"""Hypotheses closer than this become one; the width goes into its variance (a choice) [K]."""
MOST = 40
"""So many explanations are kept; the others count as none of them."""
STRAY = 0.02
"""So many settled pairs mean nothing: a clamp on the wrong cylinder, a loose hose (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class Explanations:
    """
    What a pair would be off by, under each of what the cylinder may hold.

    Parameters
    ----------
    designation : ndarray[k]
        Index among the engine's.
    weight : ndarray[k]
        Probability without this reading [-].
    residual, variance : ndarray[k]
        ln P read less ln P of the curve at the temperature read, and its variance from noise and curve [-].
    slope_per_k : ndarray[k]
        d ln P/dT of the curve [1/K].
    unexplained : float
        Probability of everything else over the span of ln P that it may lie in [-].
    pressure_pa : float
        As read [Pa].
    """

    designation: NDArray[np.intp]
    weight: Floats
    residual: Floats
    variance: Floats
    slope_per_k: Floats
    unexplained: float
    pressure_pa: float

    @property
    def measurement(self) -> Measurement:
        """The same as combinations g + z/P - s b of the errors."""
        ones = np.ones(self.weight.size)
        return Measurement(
            self.weight,
            self.residual,
            self.variance,
            np.column_stack([-self.slope_per_k, ones / self.pressure_pa, ones]),
            self.unexplained,
        )


def established(facts: CylinderFacts) -> CylinderFacts:
    """What is known of a cylinder without any reading: neither what was believed from earlier ones nor how often."""
    return replace(facts, carried=(), history={})


def explain(
    engine: VerdictEngine, pair: Pair, facts: CylinderFacts, others: Sequence[Pair] = ()
) -> Explanations:
    """
    Weigh everything that the cylinder may hold, without this set's readings.

    Parameters
    ----------
    engine : VerdictEngine
        With the priors of the region.
    pair : Pair
        As read, uncorrected.
    facts : CylinderFacts
        Of the cylinder.
    others : sequence of Pair
        Of the same contents, in any order; those that share an instrument with the pair are left out.

    Returns
    -------
    Explanations
        Heaviest first.

    Raises
    ------
    InvalidEvidence
        Naming field, value and what was expected.
    """
    free = replace(pair, temp_bias_k=WIDE_K, temperature_device="this", pressure_device="this")
    found = engine.infer([free, *_apart(pair, others)], established(facts))
    space = engine.space
    rows = np.flatnonzero(found.rows > 1e-9)
    at = np.array([pair.temp_k])
    residual = np.log(pair.pressure_pa) - space.log_pressure(at, rows)[:, 0]
    slope = space.slope(at, rows)[:, 0]
    own = (pair.pressure_noise_pa / pair.pressure_pa) ** 2 + (pair.atmosphere_bias_pa / pair.pressure_pa) ** 2
    variance = own + (slope * pair.temp_noise_k) ** 2 + space.variance[rows]
    biases = pair.pressure_bias_pa / pair.pressure_pa, pair.gain_bias
    granted = variance + (slope * WIDE_K) ** 2 + biases[0] ** 2 + biases[1] ** 2
    weight = found.rows[rows] * np.exp(0.5 * residual**2 / granted) * np.sqrt(granted)
    within = np.abs(residual) < REACH_K * slope
    rows, residual, slope, variance, weight = (
        part[within] for part in (rows, residual, slope, variance, weight.astype(float))
    )
    # What has no liquid under vapor, and what is not in the catalogue, tells nothing of the errors.
    silent = 1.0 - float(found.rows.sum())
    return _gathered(space.row_designation[rows], residual, slope, variance, weight, silent, pair)


def _apart(pair: Pair, others: Sequence[Pair]) -> list[Pair]:
    """Pairs of which neither instrument is one of this pair's; without names all are one and the same."""
    own = {pair.temperature_device, pair.pressure_device, None}
    return [one for one in others if not own & {one.temperature_device, one.pressure_device}]


def _gathered(
    designation: NDArray[np.int16],
    residual: Floats,
    slope: Floats,
    variance: Floats,
    weight: Floats,
    silent: float,
    pair: Pair,
) -> Explanations:
    """Join the rows of one designation that lie in one cell, and keep the heaviest."""
    cell = np.floor(residual / slope / CELL_K).astype(np.int64)
    _, first, group = np.unique(
        designation.astype(np.int64) * 4096 + cell, return_index=True, return_inverse=True
    )
    mass = np.bincount(group, weight)

    def mean(values: Floats) -> Floats:
        return np.asarray(np.bincount(group, weight * values) / np.maximum(mass, 1e-300))

    middle = mean(residual)
    spread = mean(variance) + np.maximum(mean(residual**2) - middle**2, 0.0)
    order = np.argsort(-mass, kind="stable")[:MOST]
    total = max(float(mass.sum()), 1e-300)
    named = (1 - STRAY) * (1 - silent) * mass[order] / total
    steep = mean(slope)[order]
    span = 2 * REACH_K * (float(steep.mean()) if steep.size else 0.027)
    return Explanations(
        designation=designation[first][order].astype(np.intp),
        weight=np.asarray(named, dtype=np.float64),
        residual=middle[order],
        variance=spread[order],
        slope_per_k=steep,
        unexplained=(1.0 - float(named.sum())) / span,
        pressure_pa=pair.pressure_pa,
    )


def learned(belief: ErrorBelief, seen: Explanations) -> ErrorBelief:
    """
    What is believed of the set after a settled pair; each contents of a cylinder may teach a set once.

    Parameters
    ----------
    belief : ErrorBelief
        As of the time of the pair.
    seen : Explanations
        Of the pair.

    Returns
    -------
    ErrorBelief
        Moved as far as label and records vouch for the contents.
    """
    if seen.weight.size == 0:
        return belief
    errors, explained = update(used(belief).errors, seen.measurement)
    return replace(belief, errors=errors, pairs=belief.pairs + 1.0 - float(explained[-1]))


def likelihood(belief: ErrorBelief, seen: Explanations) -> float:
    """How likely the reading of a pair was, by what is believed of its set [1/unit of ln P]; none says nothing."""
    return density(used(belief).errors, seen.measurement) if seen.weight.size else 1.0
