"""Prior times likelihood over everything a cylinder may hold, in one array computation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import likelihood
from service.verdict.evidence import Evidence
from service.verdict.filling import FillWeights
from service.verdict.hypotheses import Block, HypothesisSpace
from service.verdict.model import CONTAMINATIONS
from service.verdict.observing import ObservationWeights
from service.verdict.priors import NO_REFRIGERANT, Priors
from service.verdict.single_phase import SinglePhase

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Posterior:
    """Probabilities of all hypotheses; everything together sums to one.

    Parameters
    ----------
    rows : ndarray[H]
        Two-phase hypotheses, in the order of the space.
    by_state : dict of str to ndarray[n]
        none, air, shifted, mixed, vapour-only, liquid-full: joint with the designation. A shift that hardly moves
        a blend counts as none.
    identity : ndarray[n]
        Each designation over all states; with `something_else` it sums to one.
    mixtures : ndarray[n, contaminants]
        Mixed, over all shares.
    something_else : float
        Nothing of the catalogue in any state.
    evidence : Evidence
        What it was computed from.
    priors : Priors
        Likewise.
    no_refrigerant : float
        Of `something_else`: air or nitrogen alone.
    log_evidence : float
        ln of the evidence's total density under all hypotheses (a log score of the readings).
    """

    rows: NDArray[np.float32]
    by_state: dict[str, Floats]
    identity: Floats
    mixtures: Floats
    something_else: float
    evidence: Evidence
    priors: Priors
    no_refrigerant: float
    log_evidence: float

    @property
    def contamination(self) -> dict[str, float]:
        """Joint probability of liquid under vapor and each contamination [-]."""
        return {name: float(self.by_state[name].sum()) for name in CONTAMINATIONS}

    @property
    def two_phase(self) -> float:
        """Probability of liquid under vapor, of a refrigerant of the catalogue [-]."""
        return sum(self.contamination.values())

    def unrecognised(self) -> bool:
        """Whether something outside the catalogue explains the readings better than any designation."""
        return self.something_else >= 0.5 or self.something_else > float(self.identity.max())


def infer(
    space: HypothesisSpace,
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
    rows, scale = likelihood.two_phase(space, evidence, _log_prior(space, evidence, priors, fill, seen))
    vapour, full, other, gas = _single_phase(priors, fill, single, seen)
    top = max(scale, float(vapour.max()), float(full.max()), other, gas)
    share = float(np.exp(scale - top))
    vapour, full, rest = np.exp(vapour - top), np.exp(full - top), float(np.exp(other - top))
    gas_alone = float(np.exp(gas - top))
    rest += gas_alone
    mixtures = _over_parameter(rows, space.blocks["mixed"], 2)
    sums = {name: share * values for name, values in _two_phase_sums(rows, space, mixtures).items()}
    total = sum(float(s.sum()) for s in sums.values()) + float(vapour.sum() + full.sum()) + rest
    rows *= np.float32(share / total)
    by_state = {name: values / total for name, values in sums.items()}
    wet = np.where(single.condensed, vapour, 0.0).sum(axis=1)
    by_state["none"] = by_state["none"] + wet / total
    by_state["vapour-only"] = (vapour.sum(axis=1) - wet) / total
    by_state["liquid-full"] = full / total
    constant = -0.5 * (evidence.count * np.log(2 * np.pi) + evidence.log_det_pressure)
    return Posterior(
        rows=rows,
        by_state=by_state,
        identity=np.asarray(np.sum(list(by_state.values()), axis=0)),
        mixtures=mixtures * (share / total),
        something_else=rest / total,
        no_refrigerant=gas_alone / total,
        evidence=evidence,
        priors=priors,
        log_evidence=float(top + np.log(total) + constant),
    )


def _two_phase_sums(rows: NDArray[np.float32], space: HypothesisSpace, mixtures: Floats) -> dict[str, Floats]:
    """Weight of each designation by contamination, liquid under vapour; a negligible shift is none."""
    sums = {name: _over_parameter(rows, space.blocks[name], 1) for name in CONTAMINATIONS if name != "mixed"}
    sums["mixed"] = mixtures.sum(axis=1)
    faint = _negligible_shift(rows, space)
    sums["none"], sums["shifted"] = sums["none"] + faint, sums["shifted"] - faint
    return sums


def _single_phase(
    priors: Priors, fill: FillWeights, single: SinglePhase, seen: ObservationWeights
) -> tuple[Floats, Floats, float, float]:
    """Ln of prior times likelihood of vapour alone [n, shares], liquid alone [n], something else, no refrigerant."""
    with np.errstate(divide="ignore", invalid="ignore"):
        log_designation = np.log(priors.designation) + seen.alone
        heel, filled = (np.log(priors.state(name))[:, None] for name in ("vapour-only", "none"))
        vapour = single.vapour + fill.vapour + np.where(single.boiled_dry, filled, heel)
        vapour += log_designation[:, None]
        full = single.full + fill.full + log_designation + np.log(priors.state("liquid-full"))
        outside = np.log(priors.something_else) + seen.something_else
        outside += float(np.logaddexp.reduce(fill.two_phase + np.log(priors.designation)))
        other = single.something_else + outside
        gas = single.no_refrigerant + outside + np.log(NO_REFRIGERANT)
    return vapour, full, float(other), float(gas)


def _over_parameter(rows: NDArray[np.float32], block: Block, axes: int) -> Floats:
    """Sums of a block's rows over all but its first axes."""
    table = rows[block.rows].reshape(*block.shape[:axes], -1)
    return np.asarray(table @ np.ones(table.shape[-1], dtype=np.float32), dtype=np.float64)


def _negligible_shift(rows: NDArray[np.float32], space: HypothesisSpace) -> Floats:
    """Sums [n] of the rows whose shift hardly moves the blend."""
    block = space.blocks["shifted"]
    table = np.where(space.negligible, rows[block.rows].reshape(block.shape), np.float32(0.0))
    return np.asarray(table.sum(axis=1), dtype=np.float64)


def _log_prior(
    space: HypothesisSpace,
    evidence: Evidence,
    priors: Priors,
    fill: FillWeights,
    seen: ObservationWeights,
) -> NDArray[np.float32]:
    """Ln prior of every row times what else was observed; -inf where it does not exist at these temperatures."""
    rows = np.empty(space.size, dtype=np.float32)
    for state, block in space.blocks.items():
        with np.errstate(divide="ignore"):
            head = np.log(priors.designation * priors.state(state))
            if state == "mixed":
                head = head[:, None] + np.log(priors.partner)
            elif state == "shifted":
                head = head + seen.shifted
            else:
                head = head + seen.alone
        head = np.where(block.alive(evidence.temp_k), head, -np.inf)
        table = rows[block.rows].reshape(block.shape)
        if state == "none":
            wet = space.charges.wet(evidence.temp_k)
            table[:] = np.where(wet, head[:, None] + fill.alone, -np.inf)
        elif state == "air":
            wet = space.air_charges.wet(evidence.temp_k)
            lying = np.where(wet, head[:, None] + fill.air, -np.inf)
            table[:] = lying[:, None, :] + space.air.log_mass[:, None]
        elif state == "shifted":
            table[:] = (head + fill.two_phase)[:, None] + space.loss.log_mass_about(priors.vapour_lost)
        else:
            shared = (space.share.log_mass + fill.two_phase[:, None, None] + seen.mixed).astype(np.float32)
            np.add(head[:, :, None].astype(np.float32), shared, out=table)
    return rows
