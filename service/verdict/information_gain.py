"""Mutual information between a class and a reading, in bits."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BINS = 128
"""Bins of the histograms from which information is computed (a choice)."""
_BINS_PER_SPREAD = 2.0
"""Bins in one standard deviation of the reading (a choice) [-]."""


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


def joint_of_readings(
    mean: Floats, weight: Floats, label: NDArray[np.intp], spread: Floats, classes: int
) -> Floats:
    """
    Joint distributions of the class of the hypotheses and each of several possible readings.

    Parameters
    ----------
    mean : ndarray[readings, rows]
        Reading expected under each hypothesis, in the reading's unit.
    weight : ndarray[rows]
        Probability of each hypothesis.
    label : ndarray[rows]
        Its class, 0 to `classes` - 1.
    spread : ndarray[readings]
        Standard deviation of each reading under any one hypothesis.
    classes : int
        How many there are.

    Returns
    -------
    ndarray[readings, classes, BINS]
        Each sums to the sum of `weight`.
    """
    middle = mean @ weight / weight.sum()
    place = (mean - middle[:, None]) * (_BINS_PER_SPREAD / spread)[:, None]
    place += BINS / 2
    np.clip(place, 0, BINS - 1, out=place)
    cell = place.astype(np.intp)
    cell += label * BINS + np.arange(mean.shape[0])[:, None] * (classes * BINS)
    table = np.bincount(cell.ravel(), np.tile(weight, mean.shape[0]), mean.shape[0] * classes * BINS)
    blurred = table.astype(np.float32).reshape(-1, BINS) @ _kernel()
    return blurred.reshape(mean.shape[0], classes, BINS).astype(np.float64)


def of_readings(mean: Floats, weight: Floats, label: NDArray[np.intp], spread: Floats) -> list[float]:
    """
    Expected information of each of several possible readings about the class of the hypotheses.

    Parameters
    ----------
    mean : ndarray[readings, rows]
        As for `joint_of_readings`, like the others.
    weight, label : ndarray[rows]
    spread : ndarray[readings]

    Returns
    -------
    list of float
        [bit]
    """
    tables = joint_of_readings(mean, weight, label, spread, int(label.max()) + 1)
    return [mutual(table) for table in tables]


@lru_cache(maxsize=1)
def _kernel() -> NDArray[np.float32]:
    """Gaussian blur [BINS, BINS] of `_BINS_PER_SPREAD` bins; rows sum to one."""
    away = np.arange(BINS)[:, None] - np.arange(BINS)[None, :]
    kernel = np.exp(-0.5 * (away / _BINS_PER_SPREAD) ** 2)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True), dtype=np.float32)
