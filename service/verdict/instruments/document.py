"""A belief as JSON can hold it, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from service.verdict.instruments.belief import ErrorBelief
from service.verdict.instruments.classes import InstrumentClass
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
