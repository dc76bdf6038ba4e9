"""Neighbouring rows in groups, so that most hypotheses are ruled out without being looked at.

Every row is a series of seven terms. Rows of a group differ from its centre by at most d_j in each coefficient, so that
whatever is linear in ln P, with weights f_j of the terms, differs by at most ``sum |f_j| d_j``. The last terms, c_j and
d_j together, are small: they count as a distance of at most their sum times the greatest of their |f_j|. With the
greatest slope and variance of a group that gives an upper bound of the likelihood of each of its rows. Groups are
left out from the least likely on, as long as all that they could hold is `NEGLIGIBLE` of what some rows that were
evaluated do hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.evidence import reference_slope
from service.verdict.hypotheses import Block, HypothesisSpace

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Indices = NDArray[np.intp]

NEGLIGIBLE = 2e-3
"""Share of all weight that may be ruled out without being looked at (a choice) [-]."""
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
_LEADING = 4
"""Terms of a row's series whose centres are kept; the others are 0.003 of ln P together on average (a choice)."""
_AT_ONCE = 1024
"""Groups whose slopes are computed in one pass (a choice)."""
_SLOPE_TEMPS = 33
"""Temperatures at which slopes are compared (a choice)."""
_ROUNDING = 1e-4
"""What single precision may lose of a logarithm of pressure (a choice, well above 1e-6) [-]."""


@dataclass(frozen=True, slots=True)
class RowPrior:
    """Two tables [...] whose sum, broadcast to a block's shape, is ln of its rows' prior [nat]; axes as the block's."""

    first: Singles
    second: Singles


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

    def at(self, table: Singles, where: tuple[Indices, ...]) -> Singles:
        """Values [groups, chunk or 1, nodes behind or 1] of a table for some groups, by their index along `shape`."""
        length, behind = table.shape[self.axis], table.shape[self.axis + 1 :]
        parts, chunk = (length // self.chunk, self.chunk) if length > 1 else (1, 1)
        index: Indices = np.zeros(1, dtype=np.intp)
        for one, n in zip(where, (*table.shape[: self.axis], parts), strict=True):
            if n > 1:
                index = index * n + one
        return table.reshape(-1, chunk, *behind).take(index, axis=0)

    def most(self, table: Singles) -> Singles:
        """Greatest value [groups or fewer] of a table that broadcasts to the block's shape."""
        leading, length = table.shape[: self.axis], table.shape[self.axis]
        parts, chunk = (length // self.chunk, self.chunk) if length > 1 else (1, 1)
        nodes = table.reshape(*leading, parts, chunk * int(np.prod(table.shape[self.axis + 1 :])))
        # Few nodes of many groups: passes over the groups are far faster than passes over the nodes of each.
        return np.asarray(np.maximum.reduce(np.ascontiguousarray(np.moveaxis(nodes, -1, 0)), axis=0))


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


def _slopes(space: HypothesisSpace, rows: Singles) -> Singles:
    """
    Least and greatest slope [2, groups] of any row [groups, size, TERMS] at any temperature, over the reference's [-].

    Divided by the reference's, which goes with 1/T^2 as d(1/T)/dT does, a row's slope is a polynomial in 1/T of degree
    n = TERMS - 2. Between N Chebyshev nodes it is off the middle of its range there by at most 1/cos(n pi / 2 N) times
    half that range (Ehlich and Zeller, 1964; from memory). For any pairs the factor of the reference slope is a mean of
    its values at them, so it lies between the two as well.
    """
    temp = chebyshev.node_temp_k(_SLOPE_TEMPS)
    basis = chebyshev.slopes(temp) / reference_slope(temp)
    reference = (space.reference @ basis).astype(np.float32)
    least, greatest = np.empty((2, rows.shape[0]), dtype=np.float32)
    for start in range(0, rows.shape[0], _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        slopes = rows[part] @ basis.astype(np.float32) + reference
        least[part], greatest[part] = slopes.min(axis=(1, 2)), slopes.max(axis=(1, 2))
    wide = 1.0 / np.cos((chebyshev.TERMS - 2) * np.pi / (2 * _SLOPE_TEMPS))
    middle, half = (greatest + least) / 2, (greatest - least) / 2 * np.float32(wide)
    return np.stack([middle - half, middle + half])


class RowGroups:
    """
    All groups of a space, in the order of its rows.

    `size` [groups] is the number of rows of each. `flattest` [groups] is the least slope of any of them, over the
    reference slope, and `steepest` [groups] the greatest size of one [-].

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
        centre, radius, variance, slopes = (np.concatenate(one, axis=-1) for one in zip(*parts, strict=True))
        rest = (np.abs(centre[_LEADING:]) + radius[_LEADING:]).sum(axis=0)
        self._centre: Singles = np.ascontiguousarray(centre[:_LEADING])
        self._radius: Singles = np.ascontiguousarray([*radius[:_LEADING], rest])
        self._variance: Singles = variance
        self.flattest: Singles = slopes[0]
        self.steepest: Singles = np.abs(slopes).max(axis=0)
        sizes = [np.full(int(np.prod(cut.shape)), cut.size) for cut in self._cuts.values()]
        self.size: Singles = np.concatenate(sizes).astype(np.float32)

    @staticmethod
    def _parts(space: HypothesisSpace, cut: _Cut) -> tuple[Singles, Singles, Singles, Singles]:
        rows = space.coefficients[cut.block.rows].reshape(-1, cut.size, chebyshev.TERMS)
        centre = (rows.max(axis=1) + rows.min(axis=1)) / 2
        off = np.abs(rows - centre[:, None])
        return (
            np.ascontiguousarray(centre.T),
            np.ascontiguousarray(off.max(axis=1).T),
            space.variance[cut.block.rows].reshape(-1, cut.size).max(axis=1),
            _slopes(space, rows),
        )

    def residuals(self, at_pairs: Floats, observed: float) -> Singles:
        """Least distance [groups] of any row's ln P from the observed [-]; `at_pairs` [TERMS] weighs the terms [-]."""
        size = np.abs(at_pairs)
        weights = np.array([*size[:_LEADING], size[_LEADING:].max()], dtype=np.float32)
        away = at_pairs[:_LEADING].astype(np.float32) @ self._centre
        away -= np.float32(observed)
        np.abs(away, out=away)
        away -= weights @ self._radius
        away -= np.float32(_ROUNDING * size.max())
        return np.asarray(np.maximum(away, np.float32(0.0), out=away))

    @property
    def variance(self) -> Singles:
        """Greatest variance of the rows' ln P [groups] in [-]."""
        return self._variance

    def prior(self, tables: Mapping[str, RowPrior]) -> Singles:
        """Upper bound [groups] of ln prior [nat]."""
        found = np.empty(self._variance.size, dtype=np.float32)
        for name, cut in self._cuts.items():
            table = tables[name]
            here = found[cut.groups].reshape(cut.shape)
            np.add(cut.most(table.first), cut.most(table.second), out=here)
        return found

    def likely(self, bound: Singles, best: float, held: float) -> Indices:
        """Groups [found] that cannot be left out, by bound [groups], the best and what is held [nat], as `likely`."""
        return likely(bound, best, held, self.size)

    def rows(self, chosen: Indices, tables: Mapping[str, RowPrior]) -> tuple[Indices, Singles]:
        """Rows [found] of some groups, rising like these, with ln of their prior [nat]."""
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
            np.add(cut.at(table.first, where), cut.at(table.second, where), out=prior)
            priors.append(prior.ravel())
        if not rows:
            return np.empty(0, dtype=np.intp), np.empty(0, dtype=np.float32)
        return np.concatenate(rows), np.concatenate(priors)
