"""Three refrigerants and more in one cylinder: a few typical mixtures of each designation with two others, drawn wide.

Which two others they are is open, so the class says only how likely each pressure is if there are several; without it
every pressure between two curves would be taken for a mixture of two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict.hypothesis_curves import AT_25_C, BaseCurves, Part
from service.verdict.quadrature_grids import SEVERAL_RANGE, Grid

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

DRAWS = 48
"""Mixtures of each designation; more change the density by less than its own width."""
SPREAD = 0.04
"""Standard deviation of ln P about each: the mixtures between them, and how the two others act on each other (a
judgement, no source) [-]."""
_STEPS = np.sqrt(np.array([2.0, 3.0, 5.0])) % 1.0
_LEAST_SPLIT = 0.1


@dataclass(frozen=True, slots=True)
class Design:
    """
    Which mixtures stand for all.

    Parameters
    ----------
    first, second : ndarray[n, DRAWS]
        Indices of the two others among the contaminants.
    share : ndarray[n, DRAWS]
        Node of the share grid: mass fraction of both together.
    split : ndarray[n, DRAWS]
        How much of that is the first [-].
    possible : ndarray[n]
        Whether the designation can be mixed with two at all.
    """

    first: Indices
    second: Indices
    share: Indices
    split: Floats
    possible: NDArray[np.bool_]


def design(possible: NDArray[np.bool_], weights: Floats, share: Grid) -> Design:
    """
    Draw the mixtures evenly, each other refrigerant as often as it is met.

    Parameters
    ----------
    possible : ndarray[n, contaminants]
        Which designation can be mixed with which.
    weights : ndarray[contaminants]
        How often each is met; any scale.
    share : Grid
        Of a second refrigerant's mass fraction.
    """
    even = (np.arange(1, DRAWS + 1)[:, None] * _STEPS) % 1.0
    likely = possible * weights
    enough = np.asarray((likely > 0).sum(axis=1) >= 2)
    first = _quantiles(likely, np.tile(even[:, 0], (possible.shape[0], 1)))
    without = np.repeat(likely[:, None, :], DRAWS, axis=1)
    np.put_along_axis(without, first[:, :, None], 0.0, axis=2)
    second = _quantiles(
        without.reshape(-1, weights.size), np.tile(even[:, 1], possible.shape[0])[:, None]
    ).reshape(first.shape)
    low, high = SEVERAL_RANGE
    wide = np.flatnonzero((share.edges[1:] > low + 1e-9) & (share.edges[:-1] < high - 1e-9))
    split = _LEAST_SPLIT + (1 - 2 * _LEAST_SPLIT) * even[:, 2]
    nodes = np.tile(wide[np.arange(DRAWS) % wide.size], (enough.size, 1))
    return Design(first, second, nodes, np.tile(split, (enough.size, 1)), enough)


def _quantiles(weights: Floats, at: Floats) -> Indices:
    """Which of some weights [rows, k] each quantile [rows, q] falls into."""
    total = np.cumsum(weights, axis=1)
    total /= np.maximum(total[:, -1:], 1e-300)
    return np.asarray((at[:, :, None] >= total[:, None, :]).sum(axis=2).clip(0, weights.shape[1] - 1))


def in_order(mixed: Part, drawn: Design) -> Design:
    """The same mixtures, of each designation from the lowest pressure at 25 °C to the highest."""
    order = np.argsort(_between(mixed, drawn) @ AT_25_C, axis=1)
    return Design(
        np.take_along_axis(drawn.first, order, axis=1),
        np.take_along_axis(drawn.second, order, axis=1),
        np.take_along_axis(drawn.share, order, axis=1),
        np.take_along_axis(drawn.split, order, axis=1),
        drawn.possible,
    )


def _between(mixed: Part, drawn: Design) -> Floats:
    """Coefficients [n, DRAWS, TERMS] between the two mixtures with one other, which the pairs' own tables give."""
    n = np.arange(drawn.possible.size)[:, None]
    one = mixed.coefficients[n, drawn.first, drawn.share]
    two = mixed.coefficients[n, drawn.second, drawn.share]
    return np.asarray(drawn.split[..., None] * one + (1 - drawn.split[..., None]) * two)


def rows(base: BaseCurves, mixed: Part, drawn: Design) -> Part:
    """Rows [n, DRAWS] of the mixtures."""
    coefficients = _between(mixed, drawn)
    variance = np.full(coefficients.shape[:2], SPREAD**2) + base.uncertainty[:, None] ** 2
    return Part(coefficients, variance, drawn.possible, base.low_k, base.high_k)
