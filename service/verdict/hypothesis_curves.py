"""The curves of each state as rows of Chebyshev coefficients, from the tabulated curves and deviations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import Surfaces
from service.verdict import chebyshev
from service.verdict.closed_cylinder import Charges
from service.verdict.quadrature_grids import REFERENCE_TEMP_K, Grid, neighbour_gap

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SMEAR = 0.35
"""Standard deviation, in cell widths, that joins neighbouring nodes into a smooth density (a choice) [-]."""
AIR_MISFIT = 0.02
"""Ideal partial pressure against a multi-fluid flash: within 2 % of the air's pressure (computed) [-]."""
AT_25_C = chebyshev.values(np.array([REFERENCE_TEMP_K]))[:, 0]
"""Basis functions at 25 °C, ndarray[TERMS]."""


@dataclass(frozen=True, slots=True)
class BaseCurves:
    """Clean bubble curves: coefficients [n, TERMS] [ln Pa], uncertainty [n] [-], range [n] and [n] [K]."""

    coefficients: Floats
    uncertainty: Floats
    low_k: Floats
    high_k: Floats


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of one state, each ndarray[*shape]: coefficients of TERMS [ln Pa], variance [-], where they exist [K]."""

    coefficients: Floats
    variance: Floats
    possible: Bools
    low_k: Floats
    high_k: Floats


def base_curves(curves: SaturationCurves) -> BaseCurves:
    """Clean bubble curves of all designations, fitted over their own range."""
    samples = curves.log_bubble_pressure(chebyshev.SAMPLE_TEMP_K)
    ranges = np.array([curves.temp_range_k(name) for name in curves.designations], dtype=float)
    return BaseCurves(
        coefficients=chebyshev.fit(samples),
        uncertainty=np.asarray(curves.relative_uncertainty, dtype=float),
        low_k=ranges[:, 0],
        high_k=ranges[:, 1],
    )


def _smeared(coefficients: Floats, axis: int) -> Floats:
    """Variance [*shape] of the width of the grid's cells, taken at 25 °C."""
    return (SMEAR * neighbour_gap(coefficients @ AT_25_C, axis)) ** 2


def _deviation_fit(surfaces: Surfaces) -> Floats:
    """Matrix [m, TERMS] from deviations at the surfaces' own temperatures to coefficients."""
    return chebyshev.fit(np.asarray(surfaces.temp_weights(chebyshev.SAMPLE_TEMP_K), dtype=float))


def _between(nodes: Floats, table: Floats, wanted: Floats) -> Floats:
    """Cubic interpolation of `table` [n, nodes, m] along its second axis to `wanted` nodes."""
    return np.asarray(np.einsum("wk,nkm->nwm", cubic_weights(nodes, wanted), table, optimize=True))


def cubic_weights(nodes: Floats, wanted: Floats) -> Floats:
    """
    Weights of a cubic through the four nodes about each wanted point.

    Parameters
    ----------
    nodes : ndarray[k]
        Rising, at least four [any].
    wanted : ndarray[w]
        Within the nodes [same].

    Returns
    -------
    ndarray[w, k]
        Rows sum to one.
    """
    first = np.clip(np.searchsorted(nodes, wanted) - 2, 0, nodes.size - 4)
    stencil = first[:, None] + np.arange(4)
    x = nodes[stencil]
    weights = np.ones_like(x)
    for i in range(4):
        for j in range(4):
            if i != j:
                weights[:, i] *= (wanted - x[:, j]) / (x[:, i] - x[:, j])
    result = np.zeros((wanted.size, nodes.size))
    np.put_along_axis(result, stencil, weights, axis=1)
    return result


def alone(base: BaseCurves, charges: Charges) -> Part:
    """One refrigerant alone, at each liquid fraction: rows [n, fills]."""
    coefficients = base.coefficients[:, None, :] + chebyshev.fit(charges.departure)
    variance = base.uncertainty[:, None] ** 2 + _smeared(coefficients, 1)
    return Part(coefficients, variance, np.ones_like(base.low_k, dtype=np.bool_), base.low_k, base.high_k)


def _under_vapour(base: BaseCurves, charges: Charges) -> Floats:
    """Samples [n, fills, SAMPLES] of ln P of closed charges; NaN where there is no liquid or no curve."""
    temp = chebyshev.SAMPLE_TEMP_K
    outside = (temp < base.low_k[:, None] - 1e-9) | (temp > base.high_k[:, None] + 1e-9)
    bubble = np.where(outside, np.nan, base.coefficients @ chebyshev.values(temp))
    return bubble[:, None, :] + charges.departure


def growths(curves: SaturationCurves, surfaces: Surfaces, fill: Grid) -> Floats:
    """`air_growth` [n, fills, SAMPLES] of every designation at the nodes of a grid [-]."""
    solubility = np.asarray(surfaces.air_solubility, dtype=float)
    return np.stack(
        [
            air_growth(curves, name, fill.nodes, solubility[i], chebyshev.SAMPLE_TEMP_K)
            for i, name in enumerate(curves.designations)
        ]
    )


def with_air(base: BaseCurves, growth: Floats, air: Grid, charges: Charges, oil: float = 0.0) -> Part:
    """
    Air on top, in proportion to T and to the room it has left: rows [n, pressures, fills].

    Parameters
    ----------
    base : BaseCurves
        Clean curves.
    growth : ndarray[n, fills, SAMPLES]
        Of the air, by `growths` [-].
    air : Grid
        Its partial pressure at 25 °C [Pa].
    charges : Charges
        Filled to the same liquid fractions.
    oil : float
        Share of the refrigerant's own pressure that dissolved oil takes [-].
    """
    under = _under_vapour(base, charges) + np.log1p(-oil)
    ratio = air.nodes[None, :, None, None] * (growth * np.exp(-under))[:, None, :, :]
    coefficients = chebyshev.fit(under[:, None, :, :] + np.log1p(ratio))
    air_share = -np.expm1((chebyshev.fit(under) @ AT_25_C)[:, None, :] - coefficients @ AT_25_C)
    variance = (
        base.uncertainty[:, None, None] ** 2 + (AIR_MISFIT * air_share) ** 2 + _smeared(coefficients, 1)
    )
    return Part(coefficients, variance, np.ones_like(base.low_k, dtype=np.bool_), base.low_k, base.high_k)


def with_air_and_oil(base: BaseCurves, growth: Floats, air: Grid, oil: Grid, charges: Charges) -> Part:
    """Air, with its `growths` [-], on a refrigerant with dissolved oil: rows [n, pressures, fills, oils]."""
    parts = [with_air(base, growth, air, charges, float(node)) for node in oil.nodes]
    variance = np.stack([part.variance for part in parts], axis=3)
    variance += (SMEAR * neighbour_gap(np.log1p(-oil.nodes))) ** 2
    coefficients = np.stack([part.coefficients for part in parts], axis=3)
    return Part(coefficients, variance, parts[0].possible, base.low_k, base.high_k)


def oily(base: BaseCurves, clean: Part, oil: Grid) -> Part:
    """One refrigerant alone with dissolved oil, which takes a share of its pressure: rows [n, fills, oils]."""
    lowered = np.log1p(-oil.nodes)
    coefficients = np.repeat(clean.coefficients[:, :, None, :], oil.nodes.size, axis=2)
    # The first term of a Chebyshev series is a constant.
    coefficients[..., 0] += lowered
    variance = clean.variance[:, :, None] + (SMEAR * neighbour_gap(lowered)) ** 2
    return Part(coefficients, variance, clean.possible, base.low_k, base.high_k)


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
        Ostwald coefficient L, concentration in the liquid over that in the vapor [-].
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
    """A blend after part of the charge has left as vapor: rows [n, losses]."""
    table = np.asarray(surfaces.loss, dtype=np.float64)
    exists = np.asarray(np.isfinite(table).all(axis=(1, 2)))
    deviation = _between(surfaces.loss_nodes, np.nan_to_num(table), loss.nodes) @ _deviation_fit(surfaces)
    coefficients = base.coefficients[:, None, :] + deviation
    variance = base.uncertainty[:, None] ** 2 + _smeared(coefficients, 1)
    return Part(coefficients, variance, exists, base.low_k, base.high_k)


def mixed(base: BaseCurves, curves: SaturationCurves, surfaces: Surfaces, share: Grid) -> Part:
    """One refrigerant in another: rows [n, contaminants, shares]; ln P is a mass-weighted line plus D(T)."""
    second = np.array([curves.index(name) for name in surfaces.contaminants], dtype=np.intp)
    table = np.asarray(surfaces.mixture, dtype=np.float64)
    n, n_s, n_w, _ = table.shape
    exists = np.asarray(np.isfinite(table).all(axis=(2, 3)))
    known = np.asarray(surfaces.share_nodes, dtype=np.float64)
    bend = (np.nan_to_num(table) / (known * (1 - known))[:, None]).reshape(n * n_s, n_w, -1)
    w = share.nodes[:, None]
    deviation = w * (1 - w) * (_between(np.log(known), bend, np.log(share.nodes)) @ _deviation_fit(surfaces))
    coefficients = (
        (1 - w) * base.coefficients[:, None, None, :]
        + w * base.coefficients[second][None, :, None, :]
        + deviation.reshape(n, n_s, share.nodes.size, chebyshev.TERMS)
    )
    same = np.arange(n)[:, None] == second[None, :]
    return Part(
        coefficients,
        _mixture_variance(base, surfaces, second, share.nodes) + _smeared(coefficients, 2),
        exists & ~same,
        np.maximum(base.low_k[:, None], base.low_k[second][None, :]),
        np.minimum(base.high_k[:, None], base.high_k[second][None, :]),
    )


def _mixture_variance(
    base: BaseCurves, surfaces: Surfaces, second: NDArray[np.intp], share: Floats
) -> Floats:
    """Both curves' uncertainties by their share, and that of the pair, greatest at mid composition."""
    pair = np.nan_to_num(np.asarray(surfaces.mixture_uncertainty, dtype=float))[:, :, None]
    own = ((1 - share) * base.uncertainty[:, None, None]) ** 2
    other = (share * base.uncertainty[second][None, :, None]) ** 2
    return np.asarray(own + other + (4 * share * (1 - share) * pair) ** 2)
