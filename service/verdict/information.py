"""Mutual information between a class and a reading, in bits."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BINS = 128
_BINS_PER_SPREAD = 2.0


def mutual(joint: Floats) -> float:
    """
    Mutual information of a joint distribution.

    Parameters
    ----------
    joint : ndarray[classes, outcomes]
        Not negative; normalised here.

    Returns
    -------
    float
        Never negative [bit].
    """
    total = float(joint.sum())
    if total <= 0:
        return 0.0
    bits = _entropy(joint.sum(axis=1)) + _entropy(joint.sum(axis=0)) - _entropy(joint)
    return max(0.0, bits / total + float(np.log2(total)))


def _entropy(weights: Floats) -> float:
    """Sum of -w log2 w over positive weights that need not sum to one."""
    flat = weights.ravel()
    return -float(flat @ np.log2(np.maximum(flat, 1e-300)))


def of_reading(mean: Floats, weight: Floats, label: NDArray[np.intp], spread: float) -> float:
    """
    Expected information of one reading about the class of the hypotheses.

    Parameters
    ----------
    mean, weight : ndarray[rows]
        Reading expected under each hypothesis, and its probability.
    label : ndarray[rows]
        Its class, 0 to a few.
    spread : float
        Standard deviation of the reading under any one hypothesis.

    Returns
    -------
    float
        [bit]
    """
    middle = float(weight @ mean / weight.sum())
    width = spread / _BINS_PER_SPREAD
    at = np.clip((mean - middle) / width + BINS / 2, 0, BINS - 1).astype(np.intp)
    count = int(label.max()) + 1
    table = np.bincount(label * BINS + at, weights=weight, minlength=count * BINS)
    return mutual(np.asarray(table, dtype=np.float64).reshape(count, BINS) @ _kernel())


@lru_cache(maxsize=1)
def _kernel() -> Floats:
    """Gaussian blur [BINS, BINS] of `_BINS_PER_SPREAD` bins; rows sum to one."""
    away = np.arange(BINS)[:, None] - np.arange(BINS)[None, :]
    kernel = np.exp(-0.5 * (away / _BINS_PER_SPREAD) ** 2)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True))
