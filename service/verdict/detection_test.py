"""The test behind detection limits: one clean refrigerant against a contaminant that shifts its pressure.

The residual against the clean curve, along the contaminant's shift and in units of its own standard deviation, is
compared with a threshold. A clean cylinder passes the threshold at most 5 times in 100; a shift of the needed size
crosses it 95 times in 100. For a refrigerant without glide that is 1.70 + 1.64 = 3.3 standard deviations; for a
blend whose liquid fraction is not known, both take the spread of the closed cylinder's pressure into account.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.evidence import Evidence
from service.verdict.filling import FillWeights
from service.verdict.hypotheses import HypothesisSpace

Floats = NDArray[np.float64]

FALSE_ALARM = 0.045
"""How often a clean cylinder may be accused (a choice); the tables' own small errors may bring it to 0.05 [-]."""
POWER = 0.95
"""How often what lies at the detection limit is seen (a choice) [-]."""
_NORMAL = {FALSE_ALARM: -1.6953977, POWER: 1.6448536}
"""Quantiles of the standard normal distribution at those two (computed) [-]."""
_CLOSE = 1e-4
"""The search for a quantile ends with a step so small, in standard deviations (a choice) [-]; what is left of the way
goes with its square."""
_MOST_STEPS = 60
"""Of that search: halving alone comes as close from any distance that occurs (a choice)."""
_NO_OFFSET = 1e-5
"""Fills that move ln P by less than this are one, and the quantiles are those of a normal distribution (a choice)
[-]."""


@dataclass(frozen=True, slots=True)
class Screen:
    """The test of one clean refrigerant.

    Parameters
    ----------
    designation : int
        Index of the refrigerant.
    inverse : ndarray[k, k]
        Inverse covariance of the residuals under the clean curve [-].
    offsets : ndarray[fills, k]
        ln P of the closed cylinder less the bubble curve [-], for each liquid fraction that leaves liquid.
    weights : ndarray[fills]
        Probability of each liquid fraction.
    """

    designation: int
    inverse: Floats
    offsets: Floats
    weights: Floats

    def shift(self, change: Floats) -> Floats:
        """Size [...] of changes of ln P [..., k] in standard deviations of the combined residual [-]."""
        return np.asarray(np.sqrt(np.einsum("...i,ij,...j->...", change, self.inverse, change)))

    def statistic(self, residuals: Floats, change: Floats) -> Floats:
        """Residuals [..., k] along one change [k] of ln P, in standard deviations [-]."""
        return np.asarray(residuals @ (self.inverse @ change) / self.shift(change))

    def thresholds(self, changes: Floats) -> tuple[Floats, Floats]:
        """
        Threshold of the statistic and size of a shift that crosses it.

        Parameters
        ----------
        changes : ndarray[n, k]
            Changes of ln P [-]; only their directions matter.

        Returns
        -------
        tuple of ndarray[n]
            Threshold, and needed size, in standard deviations [-].
        """
        if float(np.abs(self.offsets).max()) < _NO_OFFSET:
            sizes = np.ones(changes.shape[0])
            return -_NORMAL[FALSE_ALARM] * sizes, (-_NORMAL[FALSE_ALARM] + _NORMAL[POWER]) * sizes
        size = np.maximum(self.shift(changes), 1e-12)
        means = changes @ self.inverse @ self.offsets.T / size[:, None]
        threshold, least = self._quantiles(means, (FALSE_ALARM, POWER))
        return threshold, threshold - least

    def _quantiles(self, means: Floats, exceeded: tuple[float, ...]) -> Floats:
        """
        What mixtures of unit normals about means [n, fills] exceed so often; [exceeded, n].

        By Newton's method between two values that the quantile lies between, halved where a step would lead out.
        """
        level = 1.0 - np.array(exceeded)[:, None]
        normal = -np.array([_NORMAL[chance] for chance in exceeded])[:, None]
        low, high = means.min(axis=1) + normal, means.max(axis=1) + normal
        middle = means @ self.weights
        found = middle + normal * np.sqrt(1.0 + np.maximum(means**2 @ self.weights - middle**2, 0.0))
        found = np.asarray(np.clip(found, low, high))
        for _ in range(_MOST_STEPS):
            below, density = (part @ self.weights for part in _normal(found[..., None] - means))
            low, high = np.where(below < level, found, low), np.where(below < level, high, found)
            step = found - (below - level) / np.maximum(density, 1e-12)
            step = np.where((step > low) & (step < high), step, (low + high) / 2)
            widest = float(np.abs(step - found).max())
            found = step
            if widest < _CLOSE:
                break
        return np.asarray(found)


def screen(space: HypothesisSpace, evidence: Evidence, fill: FillWeights, designation: int) -> Screen:
    """The test of one designation, with its liquid fraction as well known as it is."""
    slopes = space.clean[designation] @ chebyshev.slopes(evidence.temp_k)
    covariance = evidence.covariance(slopes, float(space.curve_uncertainty[designation]) ** 2)
    block = space.blocks["none"]
    wet = np.flatnonzero(space.charges.wet(evidence.temp_k)[designation])
    rows = block.start + designation * block.shape[1] + wet
    clean = space.clean[designation] @ chebyshev.values(evidence.temp_k)
    chances = fill.alone[designation][wet]
    chances -= np.logaddexp.reduce(chances)
    return Screen(
        designation,
        np.asarray(np.linalg.inv(covariance), dtype=np.float64),
        space.log_pressure(evidence.temp_k, rows) - clean,
        np.asarray(np.exp(chances), dtype=np.float64),
    )


def normal_distribution(x: Floats) -> Floats:
    """Normal distribution function [-] of x [...] in standard deviations, within 1e-7: Abramowitz and Stegun 7.1.26."""
    return _normal(x)[0]


def _normal(x: Floats) -> tuple[Floats, Floats]:
    """Distribution function and density [...] of the standard normal distribution."""
    z = np.abs(x) / math.sqrt(2)
    t = 1 / (1 + 0.3275911 * z)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    bell = np.exp(-z * z)
    half = 0.5 * series * bell
    return np.where(x >= 0, 1 - half, half), bell / math.sqrt(2 * math.pi)
