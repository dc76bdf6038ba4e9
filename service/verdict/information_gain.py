"""Mutual information between a class and a reading, in bits."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BINS = 128
"""Bins of the histograms from which information is computed (a choice)."""
_TINY = 1e-300
"""Stands for nothing where a logarithm or a quotient needs a number (a choice) [-]."""
_FARTHEST = 1e-9
"""Parts of the blur that are less are nothing: their products with small weights would be subnormal, and slow (a
choice) [-]."""
_BINS_PER_SPREAD = 2.0
"""Bins in one standard deviation of the reading (a choice) [-]."""


def mutual(joint: Floats) -> Floats:
    """
    Mutual information of joint distributions.

    Parameters
    ----------
    joint : ndarray[..., classes, outcomes]
        Not negative; each is normalised here.

    Returns
    -------
    ndarray[...]
        Never negative; 0 for a distribution that is zero throughout [bit].
    """
    total = joint.sum(axis=(-2, -1))
    bits = _entropy(joint.sum(axis=-1)) + _entropy(joint.sum(axis=-2))
    bits -= _entropy(joint.reshape(*joint.shape[:-2], -1))
    some = np.maximum(total, _TINY)
    return np.where(total > 0.0, np.maximum(bits / some + np.log2(some), 0.0), 0.0)


def _entropy(weights: Floats) -> Floats:
    """Sums [...] of -w log2 w over weights [..., n] that need not sum to one."""
    return -np.asarray(np.vecdot(weights, np.log2(np.maximum(weights, _TINY))))


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
    # Most classes have no row at all: nothing of them is blurred.
    some, readings = np.flatnonzero(np.bincount(label, minlength=classes)), mean.shape[0]
    number = np.zeros(classes, dtype=np.intp)
    number[some] = np.arange(some.size)
    cell = place.astype(np.intp)
    cell += number[label] * BINS + np.arange(readings)[:, None] * (some.size * BINS)
    table = np.bincount(cell.ravel(), np.tile(weight, readings), readings * some.size * BINS)
    joint = np.zeros((readings, classes, BINS))
    joint[:, some] = (table.astype(np.float32).reshape(-1, BINS) @ _kernel()).reshape(readings, -1, BINS)
    return joint


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
    return [float(bits) for bits in mutual(tables)]


@lru_cache(maxsize=1)
def _kernel() -> NDArray[np.float32]:
    """Gaussian blur [BINS, BINS] of `_BINS_PER_SPREAD` bins; rows sum to one."""
    away = np.arange(BINS)[:, None] - np.arange(BINS)[None, :]
    kernel = np.exp(-0.5 * (away / _BINS_PER_SPREAD) ** 2)
    kernel[kernel < _FARTHEST] = 0.0
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True), dtype=np.float32)
