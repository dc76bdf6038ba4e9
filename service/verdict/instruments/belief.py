"""What is believed of the errors of one thermometer with one gauge, how it ages, and when a device is in doubt.

An error is what a device shows less what is true: T_read = T + b, P_read = P (1 + g) + z. One pair shows only their
combination g + z/P - s b, so the errors of a set are learned together. A device of two sets is learned in each apart:
nothing is counted twice, and what the sets could tell each other is given away.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.verdict.evidence import REFERENCE_SLOPE_PER_K
from service.verdict.instruments import classes
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.mixture import Mixture, reduced

Floats = NDArray[np.float64]

CYLINDER_FLOOR_K = 0.1
"""What many cylinders may have in common (the error of a curve, a little air that one pump leaves in all), which no
number of them averages away (a judgement; a curve's 0.3 % is 0.1 K) [K]."""
LIMIT = 2.5
"""A device has left its class when its error is greater than so many standard uncertainties of the class (a choice)
[-]."""
TYPICAL_PA = 1e6
"""Pressure at which the errors of a set are summed up: R-22 near 25 °C (computed) [Pa]."""
DOUBTED = 0.5
"""It is in doubt from this probability of that on (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class ErrorBelief:
    """
    The errors of a set.

    Parameters
    ----------
    grade : InstrumentClass
        What it was taken for at first.
    errors : Mixture
        Over `classes.ERRORS`.
    pairs : float
        How many settled pairs it has learned from; one that stayed unexplained counts in part [-].
    """

    grade: InstrumentClass
    errors: Mixture
    pairs: float = 0.0

    @property
    def moments(self) -> tuple[Floats, Floats]:
        """Mean [3] and covariance [3, 3] of the errors [K], [Pa], [-], what cylinders have in common in it."""
        mean, cov = self.errors.moments
        cov = cov.copy()
        cov[0, 0] += self._floor_k2
        return mean, cov

    @property
    def _floor_k2(self) -> float:
        return CYLINDER_FLOOR_K**2 * min(1.0, self.pairs)

    def interval(self, which: int, level: float = 0.95) -> tuple[float, float]:
        """What holds an error, in the error's unit, by its place in `ERRORS`, with a probability [-]; equal tails."""
        row = np.eye(3)[which]
        return self._quantile(row, 0.5 - level / 2), self._quantile(row, 0.5 + level / 2)

    def combined_k(self, pressure_pa: float = TYPICAL_PA) -> tuple[float, float]:
        """Mean and standard uncertainty of the whole error of a pair near 25 °C, as a temperature [K]."""
        mean, cov = self.moments
        row = _combination(pressure_pa)
        return float(row @ mean), math.sqrt(float(row @ cov @ row))

    @property
    def doubt(self) -> float:
        """Probability that the set, taken together, is off by more than its class allows [-]."""
        return self._outside(_combination(TYPICAL_PA))

    @property
    def thermometer_doubt(self) -> float:
        """Probability that the thermometer has left its class [-]."""
        return self._outside(np.eye(3)[0])

    @property
    def gauge_doubt(self) -> float:
        """Probability that the gauge has left its class, by zero or by gain [-]."""
        return max(self._outside(np.eye(3)[1]), self._outside(np.eye(3)[2]))

    def _outside(self, row: Floats) -> float:
        limit = LIMIT * math.sqrt(float(row**2 @ self.grade.sizes**2))
        return self._beyond(row, limit) + 1 - self._beyond(row, -limit)

    def _beyond(self, row: Floats, at: float) -> float:
        """Probability that a combination of the errors is greater than a value."""
        spread = self._variances(row)
        away = (at - self.errors.mean @ row) / np.sqrt(2 * spread)
        return float(self.errors.weight @ [0.5 * math.erfc(float(one)) for one in away])

    def _variances(self, row: Floats) -> Floats:
        """Variance [m] of a combination under each component."""
        own = np.einsum("i,mij,j->m", row, self.errors.cov, row)
        return np.asarray(own + row[0] ** 2 * self._floor_k2)

    def _quantile(self, row: Floats, share: float) -> float:
        middle, reach = self.errors.mean @ row, 8 * np.sqrt(self._variances(row))
        low, high = float((middle - reach).min()), float((middle + reach).max())
        for _ in range(50):
            at = (low + high) / 2
            low, high = (at, high) if 1 - self._beyond(row, at) < share else (low, at)
        return (low + high) / 2


def _combination(pressure_pa: float) -> Floats:
    """Row [3] that turns errors into the offset of a thermometer that would show the same [K]."""
    per_k = REFERENCE_SLOPE_PER_K
    return np.array([1.0, -1.0 / (pressure_pa * per_k), -1.0 / per_k])


def unchecked(grade: InstrumentClass) -> ErrorBelief:
    """What is believed of a set of which nothing is known but its class."""
    weights, covs = [], []
    for thermometer, gauge in ((1, 1), (1, 0), (0, 1), (0, 0)):
        factor = np.where(classes.DEVICES[0], _spread(thermometer), _spread(gauge))
        weights.append(_share(thermometer) * _share(gauge))
        covs.append(np.diag((grade.sizes * factor) ** 2))
    return ErrorBelief(grade, Mixture(np.array(weights), np.zeros((4, 3)), np.array(covs)))


def _share(usual: int) -> float:
    return 1 - classes.TAIL_SHARE if usual else classes.TAIL_SHARE


def _spread(usual: int) -> float:
    return 1.0 if usual else classes.TAIL_FACTOR


def aged(belief: ErrorBelief, seconds: float) -> ErrorBelief:
    """
    The same after a time: every error may have drifted, and either device may have been dropped.

    Parameters
    ----------
    belief : ErrorBelief
        As it was.
    seconds : float
        Time since; none passes where it is not positive [s].

    Returns
    -------
    ErrorBelief
        With as many components as `mixture.KEPT`.
    """
    months = seconds / classes.MONTH_S
    if months <= 0:
        return belief
    drift = months * (classes.DRIFT_PER_MONTH * belief.grade.sizes) ** 2
    drifted = replace(belief.errors, cov=belief.errors.cov + _diagonal(drift, belief.errors))
    return used(replace(belief, errors=drifted), -math.expm1(-classes.JUMP_PER_MONTH * months))


def used(belief: ErrorBelief, jump: float = classes.JUMP_PER_PAIR) -> ErrorBelief:
    """The same after a use in which either device may have been dropped, with a probability [-]."""
    sizes, before = belief.grade.sizes, belief.errors
    parts = [((1 - jump) ** 2, before.cov)]
    for device in classes.DEVICES:
        moved = _diagonal(np.where(device, classes.JUMP_FACTOR * sizes, 0.0) ** 2, before)
        parts.append((jump * (1 - jump / 2), before.cov + moved))
    later = Mixture(
        np.concatenate([share * before.weight for share, _ in parts]),
        np.concatenate([before.mean] * len(parts)),
        np.concatenate([moved for _, moved in parts]),
    )
    return replace(belief, errors=reduced(later))


def _diagonal(variances: Floats, errors: Mixture) -> Floats:
    """Variances of the errors as they are now, in a state that may remember more beside them."""
    return np.diag(np.pad(variances, (0, errors.mean.shape[1] - variances.size)))
