"""A belief, and what a settled pair told, as JSON can hold them, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.contents import Explanations
from service.verdict.instruments.mixture import Mixture


def to_json(belief: ErrorBelief) -> dict[str, Any]:
    """A belief as numbers and lists."""
    return {
        "version": 1,
        "class": [belief.grade.temp_k, belief.grade.zero_pa, belief.grade.gain],
        "weight": belief.errors.weight.tolist(),
        "mean": belief.errors.mean.tolist(),
        "cov": belief.errors.cov.tolist(),
        "pairs": belief.pairs,
    }


def from_json(document: Mapping[str, Any]) -> ErrorBelief:
    """The belief that `to_json` kept."""
    mixture = Mixture(*(np.array(document[name], dtype=float) for name in ("weight", "mean", "cov")))
    return ErrorBelief(InstrumentClass(*document["class"]), mixture, document["pairs"])


def seen_to_json(seen: Explanations) -> dict[str, Any]:
    """What a pair may be off by, as numbers and lists; five digits, which is far finer than anything is known."""
    return {
        "version": 1,
        "designation": seen.designation.tolist(),
        **{name: [_short(one) for one in getattr(seen, name)] for name in _SEEN},
        "unexplained": seen.unexplained,
        "pressure_pa": seen.pressure_pa,
    }


def seen_from_json(document: Mapping[str, Any]) -> Explanations:
    """The explanations that `seen_to_json` kept."""
    return Explanations(
        designation=np.array(document["designation"], dtype=np.intp),
        **{name: np.array(document[name], dtype=float) for name in _SEEN},
        unexplained=document["unexplained"],
        pressure_pa=document["pressure_pa"],
    )


_SEEN: Final = ("weight", "residual", "variance", "slope_per_k")


def _short(value: float) -> float:
    return float(f"{value:.5g}")
