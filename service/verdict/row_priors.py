"""Prior times what else was observed, of every two-phase hypothesis, before any pair is looked at.

For each block it is a sum of logarithms that depend on few of its axes, so it is kept as two small tables that
broadcast to the block's shape. What does not exist at these temperatures is -inf.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict.evidence import Evidence
from service.verdict.filling import FillWeights
from service.verdict.hypotheses import Block, HypothesisSpace
from service.verdict.observing import ObservationWeights
from service.verdict.priors import Priors
from service.verdict.row_groups import RowPrior

Floats = NDArray[np.float64]


def row_priors(
    space: HypothesisSpace,
    evidence: Evidence,
    priors: Priors,
    fill: FillWeights,
    seen: ObservationWeights,
) -> dict[str, RowPrior]:
    """
    Tables of every block.

    Parameters
    ----------
    space : HypothesisSpace
        The rows.
    evidence : Evidence
        The temperatures at which they have to exist.
    priors : Priors
        Of designations, partners and states.
    fill : FillWeights
        Of the liquid fraction.
    seen : ObservationWeights
        Of what else was observed.

    Returns
    -------
    dict of str to RowPrior
        By block.
    """
    tables = {}
    for name, block in space.blocks.items():
        first, second = _of_block(space, block, evidence, priors, fill, seen)
        tables[name] = RowPrior(first.astype(np.float32), second.astype(np.float32))
    return tables


def _of_block(
    space: HypothesisSpace,
    block: Block,
    evidence: Evidence,
    priors: Priors,
    fill: FillWeights,
    seen: ObservationWeights,
) -> tuple[Floats, Floats]:
    state, temps = block.state, evidence.temp_k
    with np.errstate(divide="ignore"):
        head = np.log(priors.designation * priors.rows(state))
        if state == "mixed":
            head = head[:, None] + np.log(priors.partner)
    head = np.where(block.alive(temps), head, -np.inf)
    if state == "mixed":
        return (head + fill.two_phase[:, None])[:, :, None], space.share.log_mass + seen.mixed
    if state == "several":
        even = -np.log(block.shape[1])
        return (head + fill.two_phase)[:, None], seen.several + even
    if state == "shifted":
        loss = space.loss.log_mass_about(priors.vapour_lost)
        return (head + seen.shifted + fill.two_phase)[:, None], loss[None, :]
    head = head + seen.alone
    if state in ("none", "oily"):
        lying = np.where(space.charges.wet(temps), head[:, None] + fill.alone, -np.inf)
        if state == "none":
            return lying, np.zeros((1, 1))
        return lying[:, :, None], space.oil.log_mass[None, None, :]
    lying = np.where(space.air_charges.wet(temps), head[:, None] + fill.air, -np.inf)
    if state == "air":
        return lying[:, None, :], space.air.log_mass[None, :, None]
    both = space.oily_air.log_mass[:, None] + space.airy_oil.log_mass
    return lying[:, None, :, None], both[None, :, None, :]
