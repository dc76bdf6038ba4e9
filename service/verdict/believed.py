"""The whole posterior, small enough to be kept: every designation of weight with its states and partners."""

from __future__ import annotations

from typing import Final

import numpy as np

from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import BelievedContent
from service.verdict.posterior import Posterior

LEAST: Final = 5e-4
"""Designations and partners below it are left out [-]. Two hundred of them hold a tenth at most, and in practice
less than a thousandth, since weights fall off steeply."""


def find(posterior: Posterior, space: HypothesisSpace) -> tuple[BelievedContent, ...]:
    """What the contents may be, the likeliest first.

    Parameters
    ----------
    posterior : Posterior
        Over all hypotheses.
    space : HypothesisSpace
        Names of designations and contaminants.

    Returns
    -------
    tuple of BelievedContent
        Joint probabilities; what they leave to one is something outside the catalogue, or of no weight.
    """
    order = np.argsort(-posterior.identity, kind="stable")
    listed = order[posterior.identity[order] >= LEAST]
    states = np.array([values[listed] for values in posterior.by_state.values()]).T.tolist()
    partners: dict[int, dict[str, float]] = {int(i): {} for i in listed}
    mixtures = posterior.mixtures[listed]
    for row, second in np.argwhere(mixtures >= LEAST).tolist():
        partners[int(listed[row])][space.contaminants[second]] = float(mixtures[row, second])
    return tuple(
        BelievedContent(
            space.designations[i],
            {
                state: weight
                for state, weight in zip(posterior.by_state, weights, strict=True)
                if weight >= LEAST
            },
            partners[i],
        )
        for i, weights in zip(listed.tolist(), states, strict=True)
    )
