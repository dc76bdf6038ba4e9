"""Mutual information between a class and a reading, in bits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_BINS_PER_SPREAD = 2.5
_MOST_BINS = 400
_REACH = 3.5


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
    joint = joint / total
    independent = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    positive = joint > 0
    bits = float((joint[positive] * np.log2(joint[positive] / independent[positive])).sum())
    return max(0.0, bits)


def of_reading(mean: Floats, weight: Floats, label: NDArray[np.intp], spread: float) -> float:
    """
    Expected information of one reading about the class of the hypotheses.

    Parameters
    ----------
    mean, weight : ndarray[rows]
        Reading expected under each hypothesis, and its probability.
    label : ndarray[rows]
        Its class, a small integer.
    spread : float
        Standard deviation of the reading under any one hypothesis.

    Returns
    -------
    float
        [bit]
    """
    middle = float(weight @ mean / weight.sum())
    width = spread / _BINS_PER_SPREAD
    half = min(_MOST_BINS / 2, float(np.abs(mean - middle).max()) / width + 1)
    bins = int(2 * half) + 2
    at = np.clip(((mean - middle) / width + half).astype(np.intp), 0, bins - 1)
    _, classes = np.unique(label, return_inverse=True)
    count = int(classes.max()) + 1
    table = np.bincount(classes * bins + at, weights=weight, minlength=count * bins)
    return mutual(_blurred(table.reshape(count, bins).astype(float)))


def _blurred(table: Floats) -> Floats:
    """Rows convolved with a Gaussian of `_BINS_PER_SPREAD` bins."""
    reach = int(_REACH * _BINS_PER_SPREAD) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / _BINS_PER_SPREAD) ** 2)
    kernel /= kernel.sum()
    padded = np.pad(table, ((0, 0), (reach, reach)))
    out = np.zeros((table.shape[0], table.shape[1] + 2 * reach))
    for offset, share in enumerate(kernel):
        shift = offset - reach
        out[:, max(0, shift) : out.shape[1] + min(0, shift)] += (
            share * padded[:, max(0, -shift) : padded.shape[1] - max(0, shift)]
        )
    return out
