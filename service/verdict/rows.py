"""The curves of each state as rows of Chebyshev coefficients, from the tabulated curves and deviations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import Surfaces
from service.verdict import basis
from service.verdict.evidence import TEMP_RANGE_K
from service.verdict.grids import REFERENCE_TEMP_K, Grid, neighbour_gap

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SMEAR = 0.35
"""Standard deviation, in cell widths, that joins neighbouring nodes into a smooth density."""
AIR_MISFIT = 0.02
"""Ideal partial pressure against a multi-fluid flash: within 2 % of the air's pressure (computed) [-]."""
_AT_25_C = basis.values(np.array([REFERENCE_TEMP_K]))[:, 0]


@dataclass(frozen=True, slots=True)
class BaseCurves:
    """Clean bubble curves: coefficients [n, TERMS], uncertainty [n], range [n] and [n] in K."""

    coefficients: Floats
    uncertainty: Floats
    low_k: Floats
    high_k: Floats


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of one state: coefficients [*shape, TERMS], variance [*shape], where the hypotheses exist."""

    coefficients: Floats
    variance: Floats
    possible: Bools
    low_k: Floats
    high_k: Floats


def base_curves(curves: SaturationCurves) -> BaseCurves:
    """Clean bubble curves of all designations, fitted over their own range."""
    samples = curves.log_bubble_pressure(basis.SAMPLE_TEMP_K)
    ranges = np.array([curves.temp_range_k(name) for name in curves.designations], dtype=float)
    return BaseCurves(
        coefficients=basis.fit(samples),
        uncertainty=np.asarray(curves.relative_uncertainty, dtype=float),
        low_k=ranges[:, 0],
        high_k=ranges[:, 1],
    )


def _smeared(coefficients: Floats, axis: int) -> Floats:
    """Variance [*shape] of the width of the grid's cells, taken at 25 °C."""
    return (SMEAR * neighbour_gap(coefficients @ _AT_25_C, axis)) ** 2


def _deviation_fit(surfaces: Surfaces) -> Floats:
    """Matrix [m, TERMS] from deviations at the surfaces' own temperatures to coefficients."""
    return basis.fit(np.asarray(surfaces.temp_weights(basis.SAMPLE_TEMP_K), dtype=float))


def _filled(deviation: Floats, nodes_k: Floats) -> tuple[Floats, Bools, Floats, Floats]:
    """Deviations without gaps along the last axis, which rows exist, and between which temperatures [K].

    Where the equation of state failed at the hot or cold end, the nearest value is carried on and the row's
    range ends there.
    """
    finite = np.isfinite(deviation)
    low = np.where(finite, nodes_k, np.inf).min(axis=-1)
    high = np.where(finite, nodes_k, -np.inf).max(axis=-1)
    nearest = np.abs(np.where(finite[..., None, :], nodes_k, np.inf) - nodes_k[:, None]).argmin(axis=-1)
    filled = np.take_along_axis(np.where(finite, deviation, 0.0), nearest, axis=-1)
    low = np.where(finite[..., nodes_k.argmin()], TEMP_RANGE_K[0], low)
    high = np.where(finite[..., nodes_k.argmax()], TEMP_RANGE_K[1], high)
    return filled, finite.sum(axis=-1) >= 2, low, high


def _interpolate(nodes: Floats, table: Floats, wanted: Floats) -> Floats:
    """Linear interpolation of `table` [n, nodes, m] to `wanted` nodes."""
    at = np.clip(np.searchsorted(nodes, wanted) - 1, 0, nodes.size - 2)
    weight = np.clip((wanted - nodes[at]) / (nodes[at + 1] - nodes[at]), 0.0, 1.0)[:, None]
    return np.asarray((1 - weight) * table[:, at] + weight * table[:, at + 1])


def alone(base: BaseCurves, surfaces: Surfaces, fill: Grid) -> Part:
    """One refrigerant alone, at each liquid fraction: rows [n, fills]."""
    coefficients = base.coefficients[:, None, :] + _fill_deviation(surfaces, fill.nodes)
    variance = base.uncertainty[:, None] ** 2 + _smeared(coefficients, 1)
    return Part(coefficients, variance, np.ones_like(base.low_k, dtype=np.bool_), base.low_k, base.high_k)


def _fill_deviation(surfaces: Surfaces, fills: Floats) -> Floats:
    """Coefficients [n, fills, TERMS] of the closed cylinder's departure from the bubble curve."""
    table = np.nan_to_num(np.asarray(surfaces.fill, dtype=float))
    return _interpolate(surfaces.fill_nodes, table, fills) @ _deviation_fit(surfaces)


def with_air(base: BaseCurves, curves: SaturationCurves, surfaces: Surfaces, air: Grid, fill: Grid) -> Part:
    """Air on top, in proportion to T and to the room it has left: rows [n, pressures, fills]."""
    temp = basis.SAMPLE_TEMP_K
    liquid = base.coefficients[:, None, :] + _fill_deviation(surfaces, fill.nodes)
    under = liquid @ basis.values(temp)
    solubility = np.asarray(surfaces.air_solubility, dtype=float)
    growth = np.stack(
        [
            air_growth(curves, name, fill.nodes, solubility[i], temp)
            for i, name in enumerate(curves.designations)
        ]
    )
    ratio = air.nodes[None, :, None, None] * (growth * np.exp(-under))[:, None, :, :]
    outside = (temp < base.low_k[:, None] - 1e-9) | (temp > base.high_k[:, None] + 1e-9)
    samples = np.where(outside[:, None, None, :], np.nan, under[:, None, :, :] + np.log1p(ratio))
    coefficients = basis.fit(samples)
    air_share = -np.expm1((liquid @ _AT_25_C)[:, None, :] - coefficients @ _AT_25_C)
    variance = (
        base.uncertainty[:, None, None] ** 2 + (AIR_MISFIT * air_share) ** 2 + _smeared(coefficients, 1)
    )
    return Part(coefficients, variance, np.ones_like(base.low_k, dtype=np.bool_), base.low_k, base.high_k)


def air_growth(
    curves: SaturationCurves, designation: str, fills: Floats, solubility: float, temp_k: Floats
) -> Floats:
    """
    Partial pressure of a fixed amount of air against that at 25 °C.

    Parameters
    ----------
    curves : SaturationCurves
        For the liquid's density.
    designation : str
        The refrigerant.
    fills : ndarray[f]
        Liquid volume fraction at 25 °C [-].
    solubility : float
        Ostwald coefficient L, concentration in the liquid over that in the vapour [-].
    temp_k : ndarray[t]
        Temperatures [K].

    Returns
    -------
    ndarray[f, t]
        ``T / T25 * (V_v + L V_l)25 / (V_v + L V_l)T``, the mass of liquid being constant [-].
    """
    low, high = curves.temp_range_k(designation)
    home = min(REFERENCE_TEMP_K, high)
    density = curves.liquid_density_kg_m3(designation, np.clip(temp_k, low, high))
    at_home = curves.liquid_density_kg_m3(designation, np.array([home]))
    swelling = np.nan_to_num(at_home / density, nan=1.0)
    liquid = np.minimum(fills[:, None] * swelling, 0.98)
    room = 1.0 - liquid + solubility * liquid
    room_home = (1.0 - fills + solubility * fills)[:, None]
    return np.asarray(temp_k / REFERENCE_TEMP_K * room_home / room)


def shifted(base: BaseCurves, surfaces: Surfaces, loss: Grid) -> Part:
    """A blend after part of the charge has left as vapour: rows [n, losses]."""
    filled, exists, low, high = _filled(np.asarray(surfaces.loss, dtype=float), surfaces.temp_nodes_k)
    deviation = _interpolate(surfaces.loss_nodes, filled, loss.nodes) @ _deviation_fit(surfaces)
    coefficients = base.coefficients[:, None, :] + deviation
    variance = base.uncertainty[:, None] ** 2 + _smeared(coefficients, 1)
    low_k = np.maximum(base.low_k, low.max(axis=1))
    high_k = np.minimum(base.high_k, high.min(axis=1))
    return Part(coefficients, variance, np.asarray(exists.all(axis=1)), low_k, high_k)


def mixed(base: BaseCurves, curves: SaturationCurves, surfaces: Surfaces, share: Grid) -> Part:
    """One refrigerant in another: rows [n, contaminants, shares]; ln P is a mass-weighted line plus D(T)."""
    second = np.array([curves.index(name) for name in surfaces.contaminants], dtype=np.intp)
    filled, exists, low, high = _filled(np.asarray(surfaces.mixture, dtype=float), surfaces.temp_nodes_k)
    n, n_s, n_w, _ = filled.shape
    table_shares = np.asarray(surfaces.share_nodes, dtype=float)
    bend = filled / (table_shares * (1 - table_shares))[:, None]
    bend = _interpolate(table_shares, bend.reshape(n * n_s, n_w, -1), share.nodes)
    w = share.nodes[:, None]
    deviation = (w * (1 - w) * bend) @ _deviation_fit(surfaces)
    coefficients = (
        (1 - w) * base.coefficients[:, None, None, :]
        + w * base.coefficients[second][None, :, None, :]
        + deviation.reshape(n, n_s, share.nodes.size, basis.TERMS)
    )
    same = np.arange(n)[:, None] == second[None, :]
    both_low = np.maximum(base.low_k[:, None], base.low_k[second][None, :])
    both_high = np.minimum(base.high_k[:, None], base.high_k[second][None, :])
    return Part(
        coefficients,
        _mixture_variance(base, surfaces, second, share.nodes) + _smeared(coefficients, 2),
        exists.all(axis=2) & ~same,
        np.maximum(low.max(axis=2), both_low),
        np.minimum(high.min(axis=2), both_high),
    )


def _mixture_variance(
    base: BaseCurves, surfaces: Surfaces, second: NDArray[np.intp], share: Floats
) -> Floats:
    """Both curves' uncertainties by their share, and that of the pair, greatest at mid composition."""
    pair = np.nan_to_num(np.asarray(surfaces.mixture_uncertainty, dtype=float))[:, :, None]
    own = ((1 - share) * base.uncertainty[:, None, None]) ** 2
    other = (share * base.uncertainty[second][None, :, None]) ** 2
    return np.asarray(own + other + (4 * share * (1 - share) * pair) ** 2)
