"""Prior times likelihood over everything a cylinder may hold, in one array computation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import likelihood
from service.verdict.evidence import Evidence
from service.verdict.filling import FillWeights
from service.verdict.hypotheses import Block, HypothesisSpace
from service.verdict.likelihood import Weights
from service.verdict.model import CONTAMINATIONS
from service.verdict.observing import ObservationWeights
from service.verdict.priors import NO_REFRIGERANT, Priors
from service.verdict.row_groups import RowGroups
from service.verdict.row_priors import row_priors
from service.verdict.single_phase import SinglePhase

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities of all hypotheses; everything together sums to one.

    Parameters
    ----------
    kept, weight : ndarray
        Two-phase hypotheses that were not ruled out: their place in the space, rising, and probability [-].
    size : int
        Number H of all two-phase hypotheses.
    by_state : dict of str to ndarray[n]
        none, air, shifted, mixed, vapour-only, liquid-full: joint with the designation. A shift that hardly moves
        a blend counts as none.
    identity : ndarray[n]
        Each designation over all states; with `something_else` it sums to one.
    mixtures : ndarray[n, contaminants]
        Mixed, over all shares.
    oil : ndarray[n]
        Of `none`, each designation with dissolved oil.
    several : ndarray[n]
        Of `mixed`, each designation with two others.
    something_else : float
        Nothing of the catalogue in any state.
    evidence : Evidence
        What it was computed from.
    priors : Priors
        Likewise.
    no_refrigerant : float
        Of `something_else`: air or nitrogen alone.
    dense : ndarray[n]
        Each designation above the end of its saturation curve. It is part of none, air, shifted and mixed, in the
        shares that were expected before: nothing is learned about those.
    log_evidence : float
        ln of the evidence's total density under all hypotheses (a log score of the readings).
    """

    kept: NDArray[np.intp]
    weight: NDArray[np.float32]
    size: int
    by_state: dict[str, Floats]
    identity: Floats
    mixtures: Floats
    oil: Floats
    several: Floats
    something_else: float
    evidence: Evidence
    priors: Priors
    no_refrigerant: float
    dense: Floats
    log_evidence: float

    @property
    def rows(self) -> NDArray[np.float32]:
        """Probability [hypotheses] of all two-phase hypotheses [-]; zero for those that were ruled out."""
        found = np.zeros(self.size, dtype=np.float32)
        found[self.kept] = self.weight
        return found

    def of_block(self, block: Block) -> tuple[NDArray[np.intp], NDArray[np.float32]]:
        """Places [found] within a block of its hypotheses that were not ruled out, and their probability [-]."""
        begin, end = np.searchsorted(self.kept, [block.start, block.start + block.size])
        return self.kept[begin:end] - block.start, self.weight[begin:end]

    def table(self, block: Block) -> NDArray[np.float32]:
        """Probability [-] of a block's hypotheses, ndarray[...] in its shape."""
        rows, weight = self.of_block(block)
        found = np.zeros(block.size, dtype=np.float32)
        found[rows] = weight
        return found.reshape(block.shape)

    @property
    def contamination(self) -> dict[str, float]:
        """Joint probability of liquid under vapor and each contamination [-]."""
        return {name: float(self.by_state[name].sum()) for name in CONTAMINATIONS}

    @property
    def two_phase(self) -> float:
        """Probability of liquid under vapor, of a refrigerant of the catalogue [-]."""
        return sum(self.contamination.values())

    def is_dense(self) -> bool:
        """Whether it most probably is a gas above the end of its saturation curve."""
        return float(self.dense.sum()) >= 0.5

    def is_empty(self) -> bool:
        """Whether air or nitrogen alone explains the readings better than any designation or anything else."""
        return self.no_refrigerant > max(0.5 * self.something_else, float(self.identity.max()))

    def unrecognised(self) -> bool:
        """Whether something outside the catalogue explains the readings better than any designation."""
        return self.something_else >= 0.5 or self.something_else > float(self.identity.max())


def infer(
    space: HypothesisSpace,
    groups: RowGroups,
    evidence: Evidence,
    priors: Priors,
    fill: FillWeights,
    single: SinglePhase,
    seen: ObservationWeights,
) -> Posterior:
    """
    Posterior over all hypotheses.

    Parameters
    ----------
    space : HypothesisSpace
        Two-phase rows.
    groups : RowGroups
        Of them.
    evidence : Evidence
        k pairs.
    priors : Priors
        Of designations, partners and states.
    fill : FillWeights
        Of the liquid fraction.
    single : SinglePhase
        Log-likelihoods of the other states.
    seen : ObservationWeights
        Of what else was observed.

    Returns
    -------
    Posterior
        Normalised.
    """
    weighed = likelihood.two_phase(space, groups, evidence, row_priors(space, evidence, priors, fill, seen))
    vapour, full, other, gas = _single_phase(priors, fill, single, seen)
    dense = _dense(priors, fill, single, seen)
    top = max(weighed.log_scale, *(float(one.max()) for one in (vapour, full, dense)), other, gas)
    sums = _sums(space, weighed)
    logs = weighed.log_scale, gas, np.logaddexp(other, gas), vapour, full, dense
    share, gas_alone, rest, vapour, full, dense = (np.exp(one - top) for one in logs)
    wet = np.where(single.condensed, vapour, 0.0).sum(axis=1)
    by_state = {
        name: share * values + dense * expected + (wet if name == "none" else 0.0)
        for (name, values), expected in zip(_by_state(space, sums).items(), _expected(priors), strict=True)
    } | {"vapour-only": vapour.sum(axis=1) - wet, "liquid-full": full}
    total = sum(float(values.sum()) for values in by_state.values()) + rest
    by_state, scale = {name: values / total for name, values in by_state.items()}, share / total
    return Posterior(
        kept=weighed.rows,
        weight=weighed.weight * np.float32(scale),
        size=space.size,
        by_state=by_state,
        identity=np.asarray(np.sum(list(by_state.values()), axis=0)),
        mixtures=sums["mixed"] * scale,
        oil=sums["oily"] * scale,
        several=sums["several"] * scale,
        something_else=float(rest / total),
        no_refrigerant=float(gas_alone / total),
        dense=dense / total,
        evidence=evidence,
        priors=priors,
        log_evidence=float(top + np.log(total) + evidence.constant),
    )


def _sums(space: HypothesisSpace, found: Weights) -> dict[str, Floats]:
    """Sums of each block's weights over all but its first axis; of losses and partners over all but two."""
    sums, begin = {}, 0
    ends = np.searchsorted(found.rows, [block.start + block.size for block in space.blocks.values()])
    for (name, block), end in zip(space.blocks.items(), ends.tolist(), strict=True):
        shape = block.shape[:2] if name in ("shifted", "mixed") else block.shape[:1]
        kept = int(np.prod(shape))
        place = (found.rows[begin:end] - block.start) // (block.size // kept)
        sums[name] = np.bincount(place, found.weight[begin:end], kept).astype(np.float64).reshape(shape)
        begin = end
    return sums


def _by_state(space: HypothesisSpace, sums: dict[str, Floats]) -> dict[str, Floats]:
    """Weight [n] of each designation by contamination, liquid under vapor; a negligible shift is none."""
    hardly = np.where(space.negligible, sums["shifted"], 0.0).sum(axis=1)
    return {
        "none": sums["none"] + sums["oily"] + hardly,
        "air": sums["air"] + sums["oily-air"],
        "shifted": np.where(space.negligible, 0.0, sums["shifted"]).sum(axis=1),
        "mixed": sums["mixed"].sum(axis=1) + sums["several"],
    }


def _single_phase(
    priors: Priors, fill: FillWeights, single: SinglePhase, seen: ObservationWeights
) -> tuple[Floats, Floats, float, float]:
    """Ln of prior times likelihood of vapor alone [n, shares], liquid alone [n], something else, no refrigerant."""
    with np.errstate(divide="ignore", invalid="ignore"):
        log_designation = np.log(priors.designation) + seen.alone
        heel, filled = (np.log(priors.state(name))[:, None] for name in ("vapour-only", "none"))
        vapour = single.vapour + fill.vapour + np.where(single.boiled_dry, filled, heel)
        vapour += log_designation[:, None]
        full = single.full + fill.full + log_designation + np.log(priors.state("liquid-full"))
        outside = np.log(priors.something_else) + seen.something_else
        other = single.something_else + outside
        other += float(np.logaddexp.reduce(fill.two_phase + np.log(priors.designation)))
        gas = single.no_refrigerant + outside + fill.gas + np.log(NO_REFRIGERANT)
    return vapour, full, float(other), float(gas)


def _dense(priors: Priors, fill: FillWeights, single: SinglePhase, seen: ObservationWeights) -> Floats:
    """Ln of prior times likelihood [n] of gases above the end of their curve, whatever else is in them."""
    found = np.full(priors.designation.size, -np.inf)
    at = single.dense_index
    with np.errstate(divide="ignore"):
        head = np.log(priors.designation * sum(priors.state(name) for name in CONTAMINATIONS)) + seen.alone
    found[at] = head[at] + np.logaddexp.reduce(single.dense + fill.alone[at], axis=1)
    return found


def _expected(priors: Priors) -> Floats:
    """Share [c, n] of each contamination before any reading, given that there is any content as filled."""
    shares = np.array([priors.state(name) for name in CONTAMINATIONS])
    return np.asarray(shares / shares.sum(axis=0))
