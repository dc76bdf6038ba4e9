"""Curves of closed cylinders, of shifted blends and between nodes, from flashed states alone."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from service.verdict.hypotheses import NEGLIGIBLE_SHIFT_K
from service.verdict.quadrature_grids import REFERENCE_TEMP_K as HOME_K
from tests.benchmarks.flashes import FILLS, HOME_INDEX_WEIGHTS, TEMPS_K, Flashed, temp_weights

GAS_CONSTANT = 8.314462618


def hardly_moved(flashed: Flashed, shifted: np.ndarray) -> np.ndarray:
    """Which curves [rows, m] lie within `NEGLIGIBLE_SHIFT_K` of the bubble curve at 25 °C."""
    home, step = np.array([HOME_K]), 0.05
    slope = flashed.bubble @ (temp_weights(home + step) - temp_weights(home - step)) / (2 * step)
    return np.abs((shifted - flashed.bubble) @ temp_weights(home)[:, 0]) < NEGLIGIBLE_SHIFT_K * slope[0]


def compressibility(flashed: Flashed) -> np.ndarray:
    """Z [m] of the saturated vapor."""
    return np.exp(flashed.dew) * flashed.molar_mass / (flashed.vapour * GAS_CONSTANT * TEMPS_K)


def along(nodes: np.ndarray, values: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Interpolate `values` [nodes, m] to `wanted`; shape-preserving where only few nodes are whole."""
    if not np.isfinite(values).all():
        whole = np.isfinite(values).all(axis=1)
        if whole.sum() < 4:
            return np.full((wanted.size, values.shape[1]), np.nan)
        return PchipInterpolator(nodes[whole], values[whole], extrapolate=True)(wanted)
    return CubicSpline(nodes, values)(wanted)


def closed(flashed: Flashed, fills: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Curves [fills, m] of closed cylinders filled to `fills` at 25 °C, and where each has boiled dry [K]."""
    densities, _, whole = _states(flashed)
    if whole.sum() < 4:
        return np.full((fills.size, TEMPS_K.size), np.nan), np.full(fills.size, np.inf)
    fractions = np.concatenate([[0.0], FILLS, [1.0]])
    home = np.log(densities[whole]) @ HOME_INDEX_WEIGHTS
    return held(flashed, 1 / np.exp(PchipInterpolator(fractions[whole], home)(fills)))


def _states(flashed: Flashed) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Density and ln P [states, m] from dew to bubble, and which states are known at all temperatures."""
    densities = np.vstack([flashed.vapour, flashed.fill_density, flashed.liquid])
    pressures = np.vstack([flashed.dew, flashed.fill, flashed.bubble])
    return densities, pressures, np.isfinite(densities).all(axis=1) & np.isfinite(pressures).all(axis=1)


def held(flashed: Flashed, volume: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Curves [volumes, m] at constant volume per mass [m3/kg], and where each has boiled dry [K].

    At every temperature ln P is found from the charge's own volume among the flashed states there.
    """
    densities, pressures, whole = _states(flashed)
    curves = np.empty((volume.size, TEMPS_K.size))
    for j in range(TEMPS_K.size):
        nodes, values = 1 / densities[whole, j][::-1], pressures[whole, j][::-1]
        line = PchipInterpolator(nodes, values)
        beyond = np.clip(volume - nodes[-1], 0.0, nodes[-1])
        beyond *= (values[-1] - values[-2]) / (nodes[-1] - nodes[-2])
        curves[:, j] = line(np.clip(volume, nodes[0], nodes[-1])) + beyond
    return curves, _dry_k(flashed, volume)


def _dry_k(flashed: Flashed, volume: np.ndarray) -> np.ndarray:
    fine = np.arange(TEMPS_K.min(), TEMPS_K.max(), 0.1)
    saturated = np.exp(np.log(flashed.vapour) @ temp_weights(fine))
    dry = saturated * volume[:, None] >= 1.0
    return np.where(dry.any(axis=1), fine[dry.argmax(axis=1)], np.inf)
