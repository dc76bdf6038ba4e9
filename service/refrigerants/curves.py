"""Saturation curves of every designation, from tables.

Each curve is a Chebyshev series. ln P is nearly a straight line in 1/T, so pressure is expanded in
1/T. Densities close like (1 - T/T*)^(1/3) towards the critical point, so their logarithms are
expanded in that variable, with T* chosen per designation when the table was made.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_NEWTON_STEPS = 4
"""Newton steps from the coarse inverse to a temperature; the tests hold what is left (a choice)."""


class OutOfRange(ValueError):
    """A temperature or pressure outside a designation's curve."""

    def __init__(self, designation: str, quantity: str, value: float, low: float, high: float) -> None:
        super().__init__(f"{designation}: {quantity} {value:.6g}, expected {low:.6g} to {high:.6g}")
        self.designation = designation
        self.value = value
        self.low = low
        self.high = high


def chebyshev(coefficients: Floats, x: Floats) -> Floats:
    """Evaluate one Chebyshev series a row (Clenshaw).

    Parameters
    ----------
    coefficients : ndarray[n, d]
        Series of each row, [-].
    x : ndarray[n, k]
        Where, -1 to 1, [-].

    Returns
    -------
    ndarray[n, k]
        The sums.
    """
    ahead, further = np.zeros_like(x), np.zeros_like(x)
    for column in coefficients.T[:0:-1]:
        ahead, further = 2 * x * ahead - further + column[:, None], ahead
    return x * ahead - further + coefficients[:, :1]


def reciprocal_position(temp_k: Floats, low_k: Floats, high_k: Floats) -> Floats:
    """Map 1/T linearly to -1 (low) .. 1 (high) [-]; every ndarray [K], broadcast."""
    return (2 / temp_k - 1 / low_k - 1 / high_k) / (1 / high_k - 1 / low_k)


def critical_position(temp_k: Floats, low_k: Floats, high_k: Floats, critical_k: Floats) -> Floats:
    """Map (1 - T/T*)^(1/3) linearly to -1 (low) .. 1 (high) [-]; every ndarray [K], broadcast."""
    at, low, high = (np.cbrt(1 - temp / critical_k) for temp in (temp_k, low_k, high_k))
    position: Floats = (2 * at - low - high) / (high - low)
    return position


@dataclass(frozen=True, slots=True)
class CurveTables:
    """The arrays behind the curves, a row a designation.

    ``temp_min_k``, ``temp_max_k``, ``critical_k`` (the T* of the densities), ``relative_uncertainty``:
    ndarray[n]. The four series, ndarray[n, d]: natural logarithms of [Pa] and [kg/m^3].
    """

    designations: tuple[str, ...]
    temp_min_k: Floats
    temp_max_k: Floats
    critical_k: Floats
    relative_uncertainty: Floats
    log_bubble_pressure: Floats
    log_dew_pressure: Floats
    log_liquid_density: Floats
    log_vapour_density: Floats


class SaturationCurves:
    """Bubble and dew curves of all designations.

    Parameters
    ----------
    tables : CurveTables
        The arrays; see there.
    """

    def __init__(self, tables: CurveTables) -> None:
        self.designations = tables.designations
        self.relative_uncertainty = tables.relative_uncertainty
        self.tables = tables
        self._index: Mapping[str, int] = {name: i for i, name in enumerate(tables.designations)}

    def index(self, designation: str) -> int:
        """Row of a designation; KeyError if there is none."""
        return self._index[designation]

    def temp_range_k(self, designation: str) -> tuple[float, float]:
        """Lowest and highest temperature of a designation's curves, [K]."""
        row = self.index(designation)
        return float(self.tables.temp_min_k[row]), float(self.tables.temp_max_k[row])

    def bubble_pressure_pa(self, designation: str, temp_k: Floats | float) -> Floats:
        """Pressure of the boiling liquid, [Pa] absolute, at temp_k [K], ndarray of its shape; OutOfRange outside."""
        return self._at(self.tables.log_bubble_pressure, designation, temp_k)

    def dew_pressure_pa(self, designation: str, temp_k: Floats | float) -> Floats:
        """Pressure of the condensing vapor, [Pa] absolute, at temp_k [K], ndarray of its shape; OutOfRange outside."""
        return self._at(self.tables.log_dew_pressure, designation, temp_k)

    def liquid_density_kg_m3(self, designation: str, temp_k: Floats | float) -> Floats:
        """Density of the boiling liquid, [kg/m^3], at temp_k [K], ndarray of its shape; OutOfRange outside."""
        return self._at(self.tables.log_liquid_density, designation, temp_k, density=True)

    def vapour_density_kg_m3(self, designation: str, temp_k: Floats | float) -> Floats:
        """Density of the condensing vapor, [kg/m^3], at temp_k [K], ndarray of its shape; OutOfRange outside."""
        return self._at(self.tables.log_vapour_density, designation, temp_k, density=True)

    def bubble_temp_k(self, designation: str, pressure_pa: Floats | float) -> Floats:
        """Temperature at which the liquid boils, [K], at pressure_pa [Pa], ndarray of its shape; OutOfRange outside."""
        return self._inverse(self.tables.log_bubble_pressure, designation, pressure_pa)

    def dew_temp_k(self, designation: str, pressure_pa: Floats | float) -> Floats:
        """Temperature of the condensing vapor, [K], at pressure_pa [Pa], ndarray of its shape; OutOfRange outside."""
        return self._inverse(self.tables.log_dew_pressure, designation, pressure_pa)

    def log_bubble_pressure(self, temp_k: Floats) -> Floats:
        """Evaluate ln P of every bubble curve.

        Parameters
        ----------
        temp_k : ndarray[k]
            Temperatures, [K].

        Returns
        -------
        ndarray[n, k]
            ln of [Pa]; NaN outside a designation's range.
        """
        return self._all(self.tables.log_bubble_pressure, temp_k)

    def log_dew_pressure(self, temp_k: Floats) -> Floats:
        """Evaluate ln P of every dew curve, ndarray[n, k] of ln [Pa]; as ``log_bubble_pressure``."""
        return self._all(self.tables.log_dew_pressure, temp_k)

    def log_liquid_density(self, temp_k: Floats) -> Floats:
        """Evaluate ln of every saturated liquid's density [kg/m^3], ndarray[n, k]; as ``log_bubble_pressure``."""
        return self._all(self.tables.log_liquid_density, temp_k, density=True)

    def log_vapour_density(self, temp_k: Floats) -> Floats:
        """Evaluate ln of every saturated vapor's density [kg/m^3], ndarray[n, k]; as ``log_bubble_pressure``."""
        return self._all(self.tables.log_vapour_density, temp_k, density=True)

    def bubble_temps_k(self, pressure_pa: Floats) -> Floats:
        """Invert every bubble curve.

        Parameters
        ----------
        pressure_pa : ndarray[k]
            Absolute pressures, [Pa].

        Returns
        -------
        ndarray[n, k]
            Temperatures, [K]; NaN outside a designation's range.
        """
        rows = np.arange(len(self.designations))
        return self._solve(self.tables.log_bubble_pressure, rows, np.asarray(pressure_pa, dtype=float))

    def _all(self, series: Floats, temp_k: Floats, *, density: bool = False) -> Floats:
        rows = np.arange(len(self.designations))
        temp = np.broadcast_to(np.asarray(temp_k, dtype=float), (rows.size, np.size(temp_k)))
        low, high = self.tables.temp_min_k[:, None], self.tables.temp_max_k[:, None]
        inside = (temp >= low - 1e-9) & (temp <= high + 1e-9)
        value = chebyshev(series, self._position(rows, np.where(inside, temp, low), density))
        return np.where(inside, value, np.nan)

    def _position(self, rows: NDArray[np.intp], temp_k: Floats, density: bool) -> Floats:
        low, high = self.tables.temp_min_k[rows, None], self.tables.temp_max_k[rows, None]
        if density:
            return critical_position(temp_k, low, high, self.tables.critical_k[rows, None])
        return reciprocal_position(temp_k, low, high)

    def _at(
        self, series: Floats, designation: str, temp_k: Floats | float, *, density: bool = False
    ) -> Floats:
        row = np.array([self.index(designation)])
        temp = np.asarray(temp_k, dtype=float)
        low, high = self.temp_range_k(designation)
        _require_inside(designation, "temperature in kelvin", temp, low, high)
        value = chebyshev(series[row], self._position(row, temp.reshape(1, -1), density))
        pressure_or_density: Floats = np.exp(value).reshape(temp.shape)
        return pressure_or_density

    def _inverse(self, series: Floats, designation: str, pressure_pa: Floats | float) -> Floats:
        row = np.array([self.index(designation)])
        pressure = np.asarray(pressure_pa, dtype=float)
        low, high = np.exp(chebyshev(series[row], np.array([[-1.0, 1.0]])))[0]
        _require_inside(designation, "absolute pressure in pascal", pressure, low, high)
        solved: Floats = self._solve(series, row, pressure.ravel())[0].reshape(pressure.shape)
        return solved

    def _solve(self, series: Floats, rows: NDArray[np.intp], pressure_pa: Floats) -> Floats:
        chosen = series[rows]
        ends = chebyshev(chosen, np.broadcast_to([-1.0, 1.0], (rows.size, 2)))
        with np.errstate(invalid="ignore", divide="ignore"):
            target = np.broadcast_to(np.log(pressure_pa), (rows.size, pressure_pa.size))
        inside = (target >= ends[:, :1] - 1e-9) & (target <= ends[:, 1:] + 1e-9)
        target = np.where(inside, target, ends[:, :1])
        slope: Floats = np.polynomial.chebyshev.chebder(chosen, axis=1).astype(float)
        # ln P is nearly a straight line in x, so Newton starts on it and needs a few steps.
        x = 2 * (target - ends[:, :1]) / (ends[:, 1:] - ends[:, :1]) - 1
        for _ in range(_NEWTON_STEPS):
            x = np.clip(x - (chebyshev(chosen, x) - target) / chebyshev(slope, x), -1.0, 1.0)
        low, high = self.tables.temp_min_k[rows, None], self.tables.temp_max_k[rows, None]
        temp = 2 / (x * (1 / high - 1 / low) + 1 / low + 1 / high)
        return np.where(inside, temp, np.nan)


def _require_inside(designation: str, quantity: str, value: Floats, low: float, high: float) -> None:
    slack = 1e-9 * high
    outside = ~((value >= low - slack) & (value <= high + slack))
    if outside.any():
        raise OutOfRange(designation, quantity, float(value[outside].flat[0]), low, high)
