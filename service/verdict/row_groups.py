"""Neighbouring rows in groups, so that most hypotheses are ruled out without being looked at.

Every row is a series of seven terms. Rows of a group differ from its centre by at most d_j in each coefficient, so that
whatever is linear in ln P and its slope, with weights f_j of the terms, differs by at most ``sum |f_j| d_j``. With the
largest variance of a group that gives an upper bound of the likelihood of each of its rows. Groups are
left out from the least likely on, as long as all that they could hold is `NEGLIGIBLE` of what some rows that were
evaluated do hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.hypotheses import Block, HypothesisSpace

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Indices = NDArray[np.intp]

NEGLIGIBLE = 4e-3
"""Share of all weight that may be ruled out without being looked at [-]."""
_DEEPEST = 25
"""So far below the best row nothing is looked for: all rows there together hold 1e-5 of it [nat]."""
_CHUNKS = {
    "none": (1, 14),
    "air": (1, 2),
    "shifted": (1, 17),
    "mixed": (2, 6),
    "oily": (1, 7),
    "oily-air": (1, 2),
    "several": (1, 8),
}
"""Axis that is cut, and into how many nodes at most; axes behind it are whole in each group."""
_ROUNDING = 1e-4


@dataclass(frozen=True, slots=True)
class RowPrior:
    """Two tables whose sum, broadcast to a block's shape, is ln of its rows' prior; as many axes as the block has."""

    first: Floats
    second: Floats


@dataclass(frozen=True, slots=True)
class _Cut:
    """How one block falls into groups of equal size: its groups' place, shape, the axis and its nodes in each."""

    block: Block
    first: int
    shape: tuple[int, ...]
    axis: int
    chunk: int
    size: int

    @property
    def groups(self) -> slice:
        return slice(self.first, self.first + int(np.prod(self.shape)))

    def at(self, table: Floats, where: tuple[Indices, ...]) -> Floats:
        """Values [groups, chunk or 1, nodes behind or 1] of a table for some groups, by their index along `shape`."""
        length = table.shape[self.axis]
        parts = (length // self.chunk, self.chunk) if length > 1 else (1, 1)
        split = table.reshape(*table.shape[: self.axis], *parts, *table.shape[self.axis + 1 :])
        index = tuple(
            one if n > 1 else np.zeros(1, dtype=np.intp) for one, n in zip(where, split.shape, strict=False)
        )
        return np.asarray(split[index])

    def most(self, table: Floats) -> Floats:
        """Greatest value [groups or fewer] of a table that broadcasts to the block's shape."""
        behind = table.max(axis=tuple(range(self.axis + 1, table.ndim)))
        if behind.shape[self.axis] == 1:
            return np.asarray(behind)
        return np.asarray(behind.reshape(*behind.shape[: self.axis], -1, self.chunk).max(axis=-1))


def likely(bound: Singles, best: float, held: float, size: Singles | None = None) -> Indices:
    """
    Which rows, or groups of rows, cannot be left out.

    Parameters
    ----------
    bound : ndarray
        Upper bound of ln of the weight of each, or of each row of its own.
    best : float
        ln of the weight of the best row that was evaluated [nat].
    held : float
        Sum of the weights of all that were, over that of the best one [-].
    size : ndarray or None
        How many rows each has.
    """
    near = np.flatnonzero(bound > np.float32(best - _DEEPEST))
    below = np.maximum(np.float32(best) - bound[near], np.float32(0.0))
    depth, weight = below.astype(np.intp), np.exp(-below)
    could = np.bincount(depth, weight if size is None else weight * size[near], _DEEPEST + 1)
    beyond = np.cumsum(could[::-1])[::-1]
    return np.asarray(near[depth < int((beyond > NEGLIGIBLE * held).sum())])


class RowGroups:
    """
    All groups of a space, in the order of its rows.

    Parameters
    ----------
    space
        The rows.
    """

    def __init__(self, space: HypothesisSpace) -> None:
        self._cuts: dict[str, _Cut] = {}
        first = 0
        for name, block in space.blocks.items():
            axis, wanted = _CHUNKS[name]
            chunk = max(n for n in range(1, wanted + 1) if block.shape[axis] % n == 0)
            shape = (*block.shape[:axis], block.shape[axis] // chunk)
            self._cuts[name] = _Cut(block, first, shape, axis, chunk, block.size // int(np.prod(shape)))
            first += int(np.prod(shape))
        parts = [self._parts(space, cut) for cut in self._cuts.values()]
        centre, radius, variance = (np.concatenate(one, axis=-1) for one in zip(*parts, strict=True))
        self._centre: Singles = np.ascontiguousarray(centre)
        self._radius: Singles = np.ascontiguousarray(radius)
        self._variance: Singles = variance
        sizes = [np.full(int(np.prod(cut.shape)), cut.size) for cut in self._cuts.values()]
        self._size: Singles = np.concatenate(sizes).astype(np.float32)

    @staticmethod
    def _parts(space: HypothesisSpace, cut: _Cut) -> tuple[Singles, Singles, Singles]:
        rows = space.coefficients[cut.block.rows].reshape(-1, cut.size, chebyshev.TERMS)
        centre = (rows.max(axis=1) + rows.min(axis=1)) / 2
        off = np.abs(rows - centre[:, None])
        return (
            np.ascontiguousarray(centre.T),
            np.ascontiguousarray(off.max(axis=1).T),
            space.variance[cut.block.rows].reshape(-1, cut.size).max(axis=1),
        )

    def residuals(self, at_pairs: Floats, observed: float) -> Singles:
        """Least distance [groups] of any row's value from the observed one; `at_pairs` [TERMS] weighs the terms."""
        size = np.abs(at_pairs)
        away = np.abs(np.float32(observed) - at_pairs.astype(np.float32) @ self._centre)
        away -= size.astype(np.float32) @ self._radius
        away -= np.float32(_ROUNDING * size.max())
        return np.asarray(np.maximum(away, np.float32(0.0)))

    def slopes(self, projection: Floats, reference: float) -> tuple[Singles, Singles]:
        """Least factor [groups] of the reference slope, and its greatest size."""
        weights = projection.astype(np.float32)
        middle, away = np.float32(reference) + weights @ self._centre, np.abs(weights) @ self._radius
        return middle - away, np.abs(middle) + away

    @property
    def variance(self) -> Singles:
        """Greatest variance of the rows [groups]."""
        return self._variance

    def prior(self, tables: Mapping[str, RowPrior]) -> Singles:
        """Upper bound [groups] of ln prior."""
        found = np.empty(self._variance.size, dtype=np.float32)
        for name, cut in self._cuts.items():
            table = cut.most(tables[name].first) + cut.most(tables[name].second)
            found[cut.groups].reshape(cut.shape)[:] = table
        return found

    def likely(self, bound: Singles, best: float, held: float) -> Indices:
        """Groups that cannot be left out, as `likely`."""
        return likely(bound, best, held, self._size)

    def rows(self, chosen: Indices, tables: Mapping[str, RowPrior]) -> tuple[Indices, Singles]:
        """Rows of some groups, rising like these, with ln of their prior."""
        rows, priors = [], []
        bounds = np.searchsorted(chosen, [cut.first for cut in self._cuts.values()])
        for (name, cut), begin, end in zip(
            self._cuts.items(), bounds, [*bounds[1:], chosen.size], strict=True
        ):
            if begin == end:
                continue
            here = chosen[begin:end] - cut.first
            rows.append((cut.block.start + here[:, None] * cut.size + np.arange(cut.size)).ravel())
            where, table = np.unravel_index(here, cut.shape), tables[name]
            behind = cut.block.shape[cut.axis + 1 :]
            prior = np.empty((here.size, cut.chunk, *behind), dtype=np.float32)
            np.add(cut.at(table.first, where), cut.at(table.second, where), out=prior, casting="same_kind")
            priors.append(prior.ravel())
        if not rows:
            return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.float32)
        return np.concatenate(rows), np.concatenate(priors)
