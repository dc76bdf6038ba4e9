"""What besides one refrigerant is in it: the finding, the likely partners, the limits."""

from __future__ import annotations

import numpy as np

from service.codes import ContaminationFinding, ContentsFinding
from service.verdict import air
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import (
    CONTAMINATIONS,
    CONTENTS_STATES,
    Contamination,
    ContentsState,
    CylinderFacts,
    DetectionLimit,
    MixturePartner,
)
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings

_WORTH_AN_AIR_ESTIMATE = 0.2
"""While it is undecided, how much air there is is told from this probability of air on (a choice) [-]."""
_LEAST_TWO_PHASE = 1e-3
"""With less probability of liquid beside vapor nothing is said of contamination (a choice) [-]."""
_LEAST_KNOWN = 1e-9
"""Shares of the contents' states that together are less say nothing (a choice, against rounding) [-]."""
_PARTNERS = 5
"""Most refrigerants that are listed as mixed in (a choice)."""
_WORTH_LISTING = 0.02
"""Least probability with which one is listed (a choice) [-]."""


def find(
    posterior: Posterior,
    space: HypothesisSpace,
    facts: CylinderFacts,
    limits: tuple[DetectionLimit, ...],
    settings: VerdictSettings,
) -> Contamination:
    """Contamination over all identities, given liquid under vapor; findings need the joint probability."""
    joint = posterior.contamination
    shares = _shares(posterior)
    finding = _finding(joint, settings)
    estimate = None
    maybe = finding == ContaminationFinding.UNDECIDED and joint["air"] >= _WORTH_AN_AIR_ESTIMATE
    if finding == ContaminationFinding.AIR or maybe:
        likeliest = int(posterior.by_state["air"].argmax())
        estimate = air.estimate(posterior, space, likeliest, facts)
    return Contamination(finding, shares, estimate, limits, _partners(posterior, space))


def _shares(posterior: Posterior) -> dict[str, float]:
    """Given liquid under vapor; the prior where there can be none, since nothing was learned about it."""
    joint, priors = posterior.contamination, posterior.priors
    if posterior.two_phase < _LEAST_TWO_PHASE:
        joint = {name: float(priors.designation @ priors.state(name)) for name in CONTAMINATIONS}
    total = sum(joint.values())
    return {name: joint[name] / total for name in CONTAMINATIONS}


def _finding(joint: dict[str, float], settings: VerdictSettings) -> str:
    if joint["none"] >= settings.none_detected:
        return ContaminationFinding.NONE_DETECTED
    bad = {name: joint[name] for name in ("air", "shifted", "mixed")}
    likeliest = max(bad, key=lambda name: bad[name])
    if sum(bad.values()) >= settings.contaminated and bad[likeliest] >= 0.5:
        return likeliest
    return ContaminationFinding.UNDECIDED


def _partners(posterior: Posterior, space: HypothesisSpace) -> tuple[MixturePartner, ...]:
    """The likeliest mixtures with the share that explains the readings best."""
    rows, weight = posterior.of_block(space.blocks["mixed"])
    shares, pairs = space.share.nodes, posterior.mixtures
    listed = np.flatnonzero(pairs >= _WORTH_LISTING)
    order = listed[np.argsort(-pairs.ravel()[listed], kind="stable")][:_PARTNERS]
    found = []
    for flat in order:
        first, second = np.unravel_index(int(flat), pairs.shape)
        probability = float(pairs[first, second])
        begin, end = np.searchsorted(rows, [flat * shares.size, (flat + 1) * shares.size])
        node = rows[begin:end] - flat * shares.size
        share = float(weight[begin:end].astype(float) @ shares[node] / probability)
        found.append(
            MixturePartner(space.designations[first], space.contaminants[second], probability, share)
        )
    return tuple(found)


def _prior_states(posterior: Posterior) -> tuple[float, float, float]:
    """Where the readings fit nothing at all, nothing was learned about the state either."""
    priors = posterior.priors
    vapour, full = (float(priors.designation @ priors.state(name)) for name in ("vapour-only", "liquid-full"))
    return 1.0 - vapour - full, vapour, full


def contents_state(posterior: Posterior, settings: VerdictSettings) -> ContentsState:
    """Liquid under vapor, vapor alone, liquid alone; `undecided` where none holds enough."""
    vapour = float(posterior.by_state["vapour-only"].sum())
    full = float(posterior.by_state["liquid-full"].sum())
    liquid = sum(posterior.contamination.values())
    known = liquid + vapour + full > _LEAST_KNOWN
    weights = (liquid, vapour, full) if known else _prior_states(posterior)
    shares = {name: w / sum(weights) for name, w in zip(CONTENTS_STATES, weights, strict=True)}
    likeliest = max(shares, key=lambda name: shares[name])
    decided = known and shares[likeliest] >= settings.state
    decided = decided and not posterior.is_dense() and not posterior.is_empty()
    return ContentsState(likeliest if decided else ContentsFinding.UNDECIDED, shares)
