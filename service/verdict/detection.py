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

FALSE_ALARM = 0.05
POWER = 0.95
_ERF = np.vectorize(math.erf, otypes=[float])


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
    inverse = np.linalg.inv(covariance)
    block = space.blocks["none"]
    rows = block.start + designation * block.shape[1] + np.arange(block.shape[1])
    clean = space.clean[designation] @ basis.values(evidence.temp_k)
    offsets = np.asarray((space.log_pressure(evidence.temp_k, rows) - clean).mean(axis=1))
    weights = np.exp(fill.alone[designation] - np.logaddexp.reduce(fill.alone[designation]))
    level = math.sqrt(float(inverse.sum()))
    threshold, needed = {}, {}
    for sign in (1, -1):
        means = sign * level * offsets
        threshold[sign] = _solve(lambda t, m=means: 1 - FALSE_ALARM - float(weights @ _phi(t - m)))
        needed[sign] = _solve(lambda d, m=means, t=threshold[sign]: POWER - float(weights @ _phi(d + m - t)))
    return Screen(designation, inverse, offsets, weights, threshold, needed)


def _phi(x: Floats) -> Floats:
    return np.asarray(0.5 * (1 + _ERF(x / math.sqrt(2))))


def _solve(function: object) -> float:
    """Zero of a decreasing function between -60 and 200, by bisection."""
    low, high = -60.0, 200.0
    for _ in range(40):
        middle = (low + high) / 2
        if function(middle) > 0:  # type: ignore[operator]
            low = middle
        else:
            high = middle
    return high


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
    return (
        _air_limit(space, evidence, test),
        *(_mixture_limit(space, evidence, test, int(s)) for s in likely),
    )


def air_change(space: HypothesisSpace, evidence: Evidence, designation: int, partial_pa: Floats) -> Floats:
    """Change [p, k] of ln P by partial pressures of air at 25 °C [Pa]."""
    clean = np.exp(space.clean[designation] @ basis.values(evidence.temp_k))
    return np.asarray(np.log1p(partial_pa[:, None] * (evidence.temp_k / 298.15) / clean))


def mixture_change(space: HypothesisSpace, evidence: Evidence, designation: int, contaminant: int) -> Floats:
    """Change [shares, k] of ln P by a second refrigerant, at the nodes of the share grid."""
    block = space.blocks["mixed"]
    n_w = block.shape[2]
    first = space.row("mixed", designation, contaminant, 0)
    mixture = space.log_pressure(evidence.temp_k, slice(first, first + n_w))
    return np.asarray(mixture - space.clean[designation] @ basis.values(evidence.temp_k))


def _air_limit(space: HypothesisSpace, evidence: Evidence, test: Screen) -> DetectionLimit:
    pressures = np.geomspace(100.0, 3e6, 80)
    shift = test.shift(air_change(space, evidence, test.designation, pressures))
    if shift[-1] < test.needed[1]:
        return DetectionLimit(
            "air", None, None, "These instruments could not show air at any plausible pressure."
        )
    limit = float(np.exp(np.interp(test.needed[1], shift, np.log(pressures))))
    return DetectionLimit("air", None, limit)


def _mixture_limit(
    space: HypothesisSpace, evidence: Evidence, test: Screen, contaminant: int
) -> DetectionLimit:
    name, own = space.contaminants[contaminant], space.designations[test.designation]
    change = mixture_change(space, evidence, test.designation, contaminant)
    share = np.concatenate([[0.0], space.share.nodes])
    signed = np.concatenate([[0.0], test.shift(change) * np.sign(change.mean(axis=1))])
    shown = np.where(signed >= 0, signed / test.needed[1], -signed / test.needed[-1])
    over = np.flatnonzero(shown >= 1.0)
    if over.size == 0:
        note = f"Pressure cannot show {name} in {own} at any share up to 50 % with these instruments."
        return DetectionLimit(name, None, None, note)
    at = int(over[0])
    same_side = np.sign(signed[at - 1]) in (0.0, np.sign(signed[at]))
    before = shown[at - 1] if same_side else 0.0
    limit = share[at - 1] + (share[at] - share[at - 1]) * (1.0 - before) / (shown[at] - before)
    return DetectionLimit(name, float(limit), None, _two_branches(name, own, share, shown, signed, at))


def _two_branches(name: str, own: str, share: Floats, shown: Floats, signed: Floats, at: int) -> str | None:
    """Words for a maximum-pressure (or minimum-pressure) mixture, where two shares give one pressure."""
    hidden = np.flatnonzero((shown < 1.0) & (share > share[at]))
    if hidden.size:
        return (
            f"{name} in {own} passes through an extreme of pressure: shares near "
            f"{100 * share[hidden[0]]:.0f} % cannot be seen again."
        )
    peak = int(np.abs(signed).argmax())
    if peak < signed.size - 1 and abs(signed[peak]) - abs(signed[-1]) > 1.0:
        return (
            f"{name} in {own} has an extreme of pressure near {100 * share[peak]:.0f} %: one pressure can "
            "mean a share on either side of it."
        )
    if shown[at] >= 1.0 and share[at] > 0.1:
        return f"Less than {100 * share[at]:.0f} % of {name} in {own} cannot be seen by pressure."
    return None
