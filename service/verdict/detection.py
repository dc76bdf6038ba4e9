"""Detection limits: the smallest amount of each contaminant that this evidence would have shown.

The test behind a limit: the combined residual against the clean curve, in units of its own standard
deviation and in the contaminant's direction, is compared with a threshold that a clean cylinder passes 5
times in 100. The limit is the amount that crosses it 95 times in 100. For a refrigerant without glide that is
1.645 + 1.645 = 3.29 standard deviations; for a blend whose liquid fraction is not known, threshold and limit
take the spread of the closed cylinder's pressure into account.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import basis
from service.verdict.evidence import Evidence
from service.verdict.filling import FillWeights
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import DetectionLimit
from service.verdict.priors import Priors

Floats = NDArray[np.float64]

_MUCH = 0.1
_AIR_PRESSURES = np.geomspace(100.0, 3e6, 80)
FALSE_ALARM = 0.05
POWER = 0.95
_NORMAL_95 = 1.6448536
"""95 % point of the normal distribution; with equal error rates both ways."""


@dataclass(frozen=True, slots=True)
class Screen:
    """The test of one clean refrigerant against contamination.

    Parameters
    ----------
    designation : int
        Index of the refrigerant.
    inverse : ndarray[k, k]
        Inverse covariance of the residuals under the clean curve.
    offsets, weights : ndarray[fills]
        ln P of the closed cylinder less the bubble curve, and the probability of each liquid fraction.
    threshold : dict of int to float
        For pressures too high (+1) and too low (-1), in standard deviations.
    needed : dict of int to float
        Shift in standard deviations that is shown with the stated power.
    """

    designation: int
    inverse: Floats
    offsets: Floats
    weights: Floats
    threshold: dict[int, float]
    needed: dict[int, float]

    def shift(self, change: Floats) -> Floats:
        """Size [...] of changes of ln P [..., k] in standard deviations of the combined residual."""
        return np.asarray(np.sqrt(np.einsum("...i,ij,...j->...", change, self.inverse, change)))

    def statistic(self, residual: Floats, change: Floats) -> float:
        """Residual [k] along a change [k] of ln P, in standard deviations; shown above the threshold."""
        return float(change @ self.inverse @ residual / self.shift(change))


def screen(space: HypothesisSpace, evidence: Evidence, fill: FillWeights, designation: int) -> Screen:
    """Threshold and needed shift for one designation, with its liquid fraction as well known as it is."""
    slopes = space.clean[designation] @ basis.slopes(evidence.temp_k)
    covariance = evidence.covariance(slopes, float(space.curve_uncertainty[designation]) ** 2)
    inverse = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    block = space.blocks["none"]
    rows = block.start + designation * block.shape[1] + np.arange(block.shape[1])
    clean = space.clean[designation] @ basis.values(evidence.temp_k)
    offsets = np.asarray(np.mean(space.log_pressure(evidence.temp_k, rows) - clean, axis=1), dtype=np.float64)
    weights: Floats = np.exp(fill.alone[designation] - np.logaddexp.reduce(fill.alone[designation]))
    level = math.sqrt(float(inverse.sum()))
    threshold, needed = {}, {}
    for sign in (1, -1):
        means = sign * level * offsets
        threshold[sign] = _quantile(means, weights, 1 - FALSE_ALARM)
        needed[sign] = threshold[sign] - _quantile(means, weights, 1 - POWER)
    return Screen(designation, inverse, offsets, weights, threshold, needed)


def _quantile(means: Floats, weights: Floats, level: float) -> float:
    """Quantile of a mixture of unit normal distributions, by bisection to 1e-4."""
    edge = _NORMAL_95 if level > 0.5 else -_NORMAL_95
    low, high = float(means.min()) + edge, float(means.max()) + edge
    while high - low > 1e-4:
        middle = (low + high) / 2
        if float(weights @ _phi(middle - means)) < level:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _phi(x: Floats) -> Floats:
    """Normal distribution function, within 1e-7: Abramowitz and Stegun 7.1.26."""
    z = np.abs(x) / math.sqrt(2)
    t = 1 / (1 + 0.3275911 * z)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    half = 0.5 * series * np.exp(-z * z)
    return np.asarray(np.where(x >= 0, 1 - half, half))


def limits(
    space: HypothesisSpace, evidence: Evidence, priors: Priors, test: Screen, count: int
) -> tuple[DetectionLimit, ...]:
    """
    Limits for air and for the likeliest second refrigerants of one designation.

    Parameters
    ----------
    space : HypothesisSpace
        The tabulated mixtures.
    evidence : Evidence
        k pairs.
    priors : Priors
        Decide which contaminants are likely.
    test : Screen
        Of that designation.
    count : int
        How many second refrigerants.

    Returns
    -------
    tuple of DetectionLimit
        Air first, then by prior probability.
    """
    likely = np.argsort(-priors.partner[test.designation], kind="stable")[:count]
    likely = likely[priors.partner[test.designation][likely] > 0]
    return (air_limit(space, evidence, test), *mixture_limits(space, evidence, test, likely))


def air_change(space: HypothesisSpace, evidence: Evidence, designation: int, partial_pa: Floats) -> Floats:
    """Change [p, k] of ln P by partial pressures of air at 25 °C [Pa]."""
    clean = np.exp(space.clean[designation] @ basis.values(evidence.temp_k))
    return np.asarray(np.log1p(partial_pa[:, None] * (evidence.temp_k / 298.15) / clean))


def mixture_change(
    space: HypothesisSpace, evidence: Evidence, designation: int, contaminants: NDArray[np.intp]
) -> Floats:
    """Change [contaminants, shares, k] of ln P by second refrigerants, at the nodes of the share grid."""
    shares = space.blocks["mixed"].shape[2]
    first = [space.row("mixed", designation, int(s), 0) for s in contaminants]
    rows = (np.array(first, dtype=np.intp)[:, None] + np.arange(shares)).ravel()
    clean = space.clean[designation] @ basis.values(evidence.temp_k)
    mixture = space.log_pressure(evidence.temp_k, rows) - clean
    return np.asarray(mixture.reshape(len(first), shares, -1))


def air_limit(space: HypothesisSpace, evidence: Evidence, test: Screen) -> DetectionLimit:
    """Limit for air, as a partial pressure at 25 °C."""
    shift = test.shift(air_change(space, evidence, test.designation, _AIR_PRESSURES))
    if shift[-1] < test.needed[1]:
        return DetectionLimit(
            "air", None, None, "These instruments could not show air at any plausible pressure."
        )
    limit = float(np.exp(np.interp(test.needed[1], shift, np.log(_AIR_PRESSURES))))
    return DetectionLimit("air", None, limit)


def mixture_limits(
    space: HypothesisSpace, evidence: Evidence, test: Screen, contaminants: NDArray[np.intp]
) -> tuple[DetectionLimit, ...]:
    """Limits for second refrigerants, as mass fractions; None where no share up to half is shown."""
    change = mixture_change(space, evidence, test.designation, contaminants)
    signed = test.shift(change) * np.sign(change.mean(axis=2))
    own, share = space.designations[test.designation], np.concatenate([[0.0], space.share.nodes])
    return tuple(
        _mixture_limit(space.contaminants[s], own, share, np.concatenate([[0.0], row]), test)
        for s, row in zip(contaminants, signed, strict=True)
    )


def _mixture_limit(name: str, own: str, share: Floats, signed: Floats, test: Screen) -> DetectionLimit:
    shown = np.where(signed >= 0, signed / test.needed[1], -signed / test.needed[-1])
    over = np.flatnonzero(shown >= 1.0)
    if over.size == 0:
        unseen = f"Pressure cannot show {name} in {own} at any share up to 50 % with these instruments."
        return DetectionLimit(name, None, None, unseen)
    at = int(over[0])
    same_side = signed[at - 1] * signed[at] >= 0
    before = float(shown[at - 1]) if same_side else 0.0
    limit = float(share[at - 1] + (share[at] - share[at - 1]) * (1.0 - before) / (shown[at] - before))
    note = None if _rises(signed) else _two_branches(name, own, share, shown, signed)
    if note is None and limit > _MUCH:
        note = f"Less than {100 * limit:.0f} % of {name} in {own} cannot be seen by pressure."
    return DetectionLimit(name, limit, None, note)


def _rises(signed: Floats) -> bool:
    """Whether the shift goes one way only, so that one pressure means one share."""
    steps = np.diff(signed)
    return bool((steps >= 0).all() or (steps <= 0).all())


def _two_branches(name: str, own: str, share: Floats, shown: Floats, signed: Floats) -> str | None:
    """Words for a mixture whose pressure passes through an extreme, where two shares give one pressure."""
    first = int(np.argmax(shown >= 1.0))
    again = np.flatnonzero(shown[first:] < 1.0)
    if again.size:
        return (
            f"{name} in {own} passes through an extreme of pressure: shares near "
            f"{100 * share[first + again[0]]:.0f} % cannot be seen again."
        )
    peak = int(np.abs(signed).argmax())
    if peak < signed.size - 1 and abs(signed[peak]) - abs(signed[-1]) > 1.0:
        return (
            f"{name} in {own} has an extreme of pressure near {100 * share[peak]:.0f} %: one pressure can "
            "mean a share on either side of it."
        )
    return None
