"""Which refrigerant: the marginal over all states and the smallest set that holds 95 %."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.codes import IdentityFinding
from service.verdict.evidence import Evidence, reference_slope
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import Candidate, Identity
from service.verdict.posterior import Posterior
from service.verdict.settings import VerdictSettings

COARSEST = 0.10
"""Relative uncertainty of a comparison above which nothing is `identified`: no label does it alone (a choice) [-]."""
_LEAST_LISTED = 1e-4
"""Least probability of a candidate that is listed (a choice) [-]."""


def find(posterior: Posterior, space: HypothesisSpace, settings: VerdictSettings) -> Identity:
    """Identity with candidates in order of probability."""
    probability = posterior.identity
    order = np.argsort(-probability, kind="stable")
    listed = _credible(probability, order, settings.set_level)
    return Identity(_finding(posterior, int(order[0]), settings), _candidates(posterior, space, listed))


def _credible(probability: NDArray[np.float64], order: NDArray[np.intp], level: float) -> NDArray[np.intp]:
    """Smallest set that holds the level of what the catalogue explains; nothing where that is nothing."""
    cumulative = np.cumsum(probability[order])
    count = int(np.searchsorted(cumulative, level * cumulative[-1])) + 1
    worth = int((probability[order] >= _LEAST_LISTED).sum())
    return order[: min(count, worth)]


def _finding(posterior: Posterior, best: int, settings: VerdictSettings) -> str:
    if posterior.unrecognised():
        return IdentityFinding.UNRECOGNISED
    with_liquid = sum(float(posterior.by_state[s][best]) for s in ("none", "air", "shifted", "mixed"))
    heard = with_liquid >= float(posterior.priors.designation[best])
    fine_enough = _relative_uncertainty(posterior.evidence) <= COARSEST
    named = with_liquid >= settings.identified and heard and fine_enough
    return IdentityFinding.IDENTIFIED if named else IdentityFinding.NARROWED


def _relative_uncertainty(evidence: Evidence) -> float:
    """Standard uncertainty of the level of ln P over all pairs, at a typical slope [-]."""
    covariance = evidence.covariance(reference_slope(evidence.temp_k), 0.0)
    return float(1.0 / np.sqrt(np.linalg.inv(covariance).sum()))


def _candidates(
    posterior: Posterior, space: HypothesisSpace, listed: NDArray[np.intp]
) -> tuple[Candidate, ...]:
    evidence = posterior.evidence
    at = int(np.abs(evidence.temp_k - 298.15).argmin())
    read_k = float(evidence.temp_k[at])
    saturation = space.saturation_temp_k(float(evidence.log_pressure[at]), read_k, listed)
    return tuple(
        Candidate(
            designation=space.designations[i],
            probability=float(posterior.identity[i]),
            saturation_temp_k=float(temp) if np.isfinite(temp) else None,
            temp_difference_k=read_k - float(temp) if np.isfinite(temp) else None,
            states={state: float(values[i]) for state, values in posterior.by_state.items()},
        )
        for i, temp in zip(listed, saturation, strict=True)
    )
