"""Every two-phase hypothesis as one row of a matrix, built once from the tabulated curves and surfaces.

A row is the curve ln P(T) of one designation in one state at one value of the free parameter. All rows of all
states lie in one matrix of Chebyshev coefficients; a verdict evaluates those that no bound rules out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import Surfaces
from service.verdict import chebyshev, hypothesis_curves, several
from service.verdict import quadrature_grids as grids
from service.verdict.closed_cylinder import ChargeBook, Charges
from service.verdict.model import CONTAMINATIONS
from service.verdict.quadrature_grids import Grid, Grids

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Rows = slice | Sequence[int] | NDArray[np.intp]

NEGLIGIBLE_SHIFT_K = 0.2
"""A loss of vapor that moves a blend's saturation temperature at 25 °C by less counts as no shift: it is below what
the tolerances of a new blend's composition do, 0.3 to 1 % of pressure or 0.1 to 0.4 K (a judgement) [K]."""


TOLD_AS = {"oily": "none", "oily-air": "air", "several": "mixed"}
"""Blocks whose state is told as another's: dissolved oil is no finding, and three refrigerants are mixed ones."""


@dataclass(frozen=True, slots=True)
class Block:
    """The rows of one state: place in the matrix, shape with the designation first, where they exist.

    Parameters
    ----------
    state : str
        `none`, `air`, `shifted`, `mixed`, `oily`, `oily-air` or `several`.
    start : int
        First row.
    shape : tuple of int
        (n, nodes), (n, pressures, fills), (n, contaminants, shares), (n, fills, oils), (n, pressures, fills, oils) or
        (n, draws).
    possible : ndarray of bool
        Leading axes of `shape` that decide whether the hypothesis exists at all.
    low_k, high_k : ndarray
        Same shape as `possible`: temperatures between which it exists [K].
    """

    state: str
    start: int
    shape: tuple[int, ...]
    possible: Bools
    low_k: Floats
    high_k: Floats

    @property
    def size(self) -> int:
        """Number of rows."""
        return int(np.prod(self.shape))

    @property
    def rows(self) -> slice:
        """Place in the matrix."""
        return slice(self.start, self.start + self.size)

    def alive(self, temp_k: Floats) -> Bools:
        """Which hypotheses exist at all of the temperatures [k] [K]; ndarray of the shape of `possible`."""
        return np.asarray(
            self.possible & (self.low_k <= temp_k.min() + 1e-9) & (self.high_k >= temp_k.max() - 1e-9)
        )


@dataclass(frozen=True, slots=True)
class HypothesisSpace:
    """All two-phase hypotheses.

    Parameters
    ----------
    designations, contaminants : tuple of str
        First axis of every block; second axis of `mixed`.
    contaminant_index : ndarray[n_s]
        Of the contaminants among the designations.
    coefficients : ndarray[H, TERMS], float32
        Chebyshev coefficients of ln P, less `reference` [ln Pa].
    reference : ndarray[TERMS]
        Taken off every row, so that float32 keeps 1e-7 of ln P.
    clean : ndarray[n, TERMS]
        Bubble curves of the designations themselves.
    variance : ndarray[H], float32
        Variance of ln P from the curve's own uncertainty and the width of the grid's cell [-].
    blocks : dict of str to Block
        By state.
    row_designation, row_state : ndarray[H]
        Index of each row's designation, and of what it is told as among `states`; a negligible shift is `none`.
    negligible : ndarray[n, losses]
        Losses of vapor that hardly move the blend, by `NEGLIGIBLE_SHIFT_K`.
    curve_uncertainty, air_solubility : ndarray[n]
        Relative standard uncertainty of each clean curve [-]; Ostwald coefficient of air [-].
    charges, air_charges : Charges
        Closed cylinders at the nodes of `fill` and of `air_fill`.
    fill, air_fill, air, share, loss, oil, oily_air, airy_oil : Grid
        The parameters' nodes and priors; the last two of air and oil where there are both.
    several : Design
        The mixtures of three.
    """

    designations: tuple[str, ...]
    contaminants: tuple[str, ...]
    contaminant_index: NDArray[np.intp]
    coefficients: NDArray[np.float32]
    reference: Floats
    clean: Floats
    variance: NDArray[np.float32]
    blocks: dict[str, Block]
    row_designation: NDArray[np.int16]
    row_state: NDArray[np.int8]
    negligible: Bools
    curve_uncertainty: Floats
    air_solubility: Floats
    charges: Charges
    air_charges: Charges
    fill: Grid
    air_fill: Grid
    air: Grid
    share: Grid
    loss: Grid
    oil: Grid
    oily_air: Grid
    airy_oil: Grid
    several: several.Design

    @property
    def states(self) -> tuple[str, ...]:
        """What rows are told as, in the order of `row_state`."""
        return tuple(state for state in self.blocks if state not in TOLD_AS)

    @property
    def size(self) -> int:
        """Number of rows H."""
        return int(self.variance.size)

    def log_pressure(self, temp_k: Floats, which: Rows) -> Floats:
        """Ln P [rows, k] of some rows at temperatures [K]."""
        return self._evaluate(chebyshev.values(temp_k), which)

    def slope(self, temp_k: Floats, which: Rows) -> Floats:
        """Slope d ln P/dT [rows, k] of some rows [1/K]."""
        return self._evaluate(chebyshev.slopes(temp_k), which)

    def _evaluate(self, weights: Floats, which: Rows) -> Floats:
        return np.asarray(self.coefficients[which].astype(float) @ weights + self.reference @ weights)

    def saturation_temp_k(self, log_pressure: float, near_k: float, index: NDArray[np.intp]) -> Floats:
        """Bubble temperatures [index] [K] of some designations at ln P, by Newton's method; NaN far outside."""
        temp = np.full(index.size, near_k)
        clean = self.clean[index].T
        for _ in range(4):
            at, slope = chebyshev.once_with_slopes(temp)
            step = (log_pressure - (clean * at).sum(axis=0)) / (clean * slope).sum(axis=0)
            temp = np.clip(temp + step, 200.0, 360.0)
        low, high = self.blocks["none"].low_k[index] - 1e-6, self.blocks["none"].high_k[index] + 1e-6
        return np.where((temp >= low) & (temp <= high), temp, np.nan)

    def row(self, state: str, *index: int) -> int:
        """Row of one hypothesis from its place in the block."""
        block = self.blocks[state]
        return block.start + int(np.ravel_multi_index(index, block.shape))


def build_space(
    curves: SaturationCurves, surfaces: Surfaces, charges: ChargeBook, met: Floats | None = None
) -> HypothesisSpace:
    """
    Tabulate all rows; about a second, once per process.

    Parameters
    ----------
    curves, surfaces
        The tabulated saturation curves and deviations.
    charges
        Closed cylinders of every designation.
    met : ndarray[contaminants] or None
        How often each contaminant is met, on any scale [-]; None: all alike.
    """
    nodes, base = grids.grids(), hypothesis_curves.base_curves(curves)
    alone, under_air = charges.charges(nodes.fill.nodes), charges.charges(nodes.air_fill.nodes)
    clean = hypothesis_curves.alone(base, alone)
    growth = hypothesis_curves.growths(curves, surfaces, nodes.air_fill)
    mixed = hypothesis_curves.mixed(base, curves, surfaces, nodes.share)
    even = np.ones(mixed.possible.shape[1]) if met is None else met
    drawn = several.in_order(mixed, several.design(mixed.possible, even, nodes.share))
    parts = {
        "none": clean,
        "air": hypothesis_curves.with_air(base, growth, nodes.air, under_air),
        "shifted": hypothesis_curves.shifted(base, surfaces, nodes.loss),
        "mixed": mixed,
        "oily": hypothesis_curves.oily(base, clean, nodes.oil),
        "oily-air": hypothesis_curves.with_air_and_oil(
            base, growth, nodes.oily_air, nodes.airy_oil, under_air
        ),
        "several": several.rows(base, mixed, drawn),
    }
    return _space(curves, surfaces, base, parts, (alone, under_air), nodes, drawn)


def _space(
    curves: SaturationCurves,
    surfaces: Surfaces,
    base: hypothesis_curves.BaseCurves,
    parts: dict[str, hypothesis_curves.Part],
    charges: tuple[Charges, Charges],
    nodes: Grids,
    drawn: several.Design,
) -> HypothesisSpace:
    """All parts as one matrix."""
    reference = np.median(base.coefficients, axis=0)
    blocks, negligible = _blocks(parts), _negligible(base, parts["shifted"])
    rows = [part.coefficients.reshape(-1, chebyshev.TERMS) for part in parts.values()]
    return HypothesisSpace(
        designations=curves.designations,
        contaminants=surfaces.contaminants,
        contaminant_index=np.array([curves.index(name) for name in surfaces.contaminants], dtype=np.intp),
        coefficients=np.ascontiguousarray(np.concatenate(rows) - reference, dtype=np.float32),
        reference=reference,
        clean=base.coefficients,
        variance=np.concatenate([p.variance.ravel() for p in parts.values()]).astype(np.float32),
        blocks=blocks,
        row_designation=_row_designations(blocks),
        row_state=_row_states(blocks, negligible),
        negligible=negligible,
        curve_uncertainty=np.asarray(curves.relative_uncertainty, dtype=float),
        air_solubility=np.asarray(surfaces.air_solubility, dtype=float),
        charges=charges[0],
        air_charges=charges[1],
        fill=nodes.fill,
        air_fill=nodes.air_fill,
        air=nodes.air,
        share=nodes.share,
        loss=nodes.loss,
        oil=nodes.oil,
        oily_air=nodes.oily_air,
        airy_oil=nodes.airy_oil,
        several=drawn,
    )


def _negligible(base: hypothesis_curves.BaseCurves, shifted: hypothesis_curves.Part) -> Bools:
    """Which losses [n, losses] move the saturation temperature by less than `NEGLIGIBLE_SHIFT_K` at 25 °C."""
    at, slope = chebyshev.with_slopes(np.minimum(grids.REFERENCE_TEMP_K, base.high_k))
    change = np.einsum("nlt,tn->nl", shifted.coefficients - base.coefficients[:, None, :], at)
    return np.asarray(
        np.abs(change) < NEGLIGIBLE_SHIFT_K * (base.coefficients * slope.T).sum(axis=1)[:, None]
    )


def _row_designations(blocks: dict[str, Block]) -> NDArray[np.int16]:
    """Index of each row's designation."""
    return np.concatenate(
        [np.repeat(np.arange(b.shape[0], dtype=np.int16), b.size // b.shape[0]) for b in blocks.values()]
    )


def _row_states(blocks: dict[str, Block], negligible: Bools) -> NDArray[np.int8]:
    """What each row is told as, as an index among the states."""
    states = list(CONTAMINATIONS)
    told = [states.index(TOLD_AS.get(name, name)) for name in blocks]
    found = np.repeat(np.array(told, dtype=np.int8), [block.size for block in blocks.values()])
    found[blocks["shifted"].rows][negligible.ravel()] = states.index("none")
    return found


def _blocks(parts: dict[str, hypothesis_curves.Part]) -> dict[str, Block]:
    blocks, start = {}, 0
    for state, part in parts.items():
        shape = part.variance.shape
        blocks[state] = Block(state, start, shape, part.possible, part.low_k, part.high_k)
        start += part.variance.size
    return blocks
