"""Vapor alone in a closed cylinder: pressure along lines of constant density, from the saturated vapor's.

``P = rho g T (1 - b(T) rho)``: the first correction to the ideal gas, with b(T) such that the saturated vapor of that
temperature stands at its dew pressure, and g = R/M from the thin end of the same table.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.verdict import chebyshev

Floats = NDArray[np.float64]

_THIN = 4
"""Samples from the coldest one to that with which it is carried on to zero density."""
_LEAST_FACTOR = 0.2
"""Least factor of the ideal gas's pressure, where the correction has no meaning anymore (a choice) [-]."""


class Isochores:
    """
    Gas constants and corrections of all designations.

    Parameters
    ----------
    curves
        The tabulated saturation curves.
    """

    def __init__(self, curves: SaturationCurves) -> None:
        temp = chebyshev.SAMPLE_TEMP_K
        density = np.exp(curves.log_vapour_density(temp))
        level = np.exp(curves.log_dew_pressure(temp)) / (density * temp)
        finite = np.isfinite(level)
        rows = np.arange(finite.shape[0])
        first, last = finite.argmax(axis=1), finite.shape[1] - 1 - finite[:, ::-1].argmax(axis=1)
        thin = np.minimum(first + _THIN, last)
        bend = (level[rows, first] - level[rows, thin]) / (density[rows, thin] - density[rows, first])
        self._gas_constant = level[rows, first] + bend * density[rows, first]
        factor = level / self._gas_constant[:, None]
        nearest = np.clip(np.arange(temp.size), first[:, None], last[:, None])
        self._correction = np.take_along_axis((1 - factor) / density, nearest, axis=1)
        home = chebyshev.home_of(finite)
        self._home_density, self._home_factor = density[rows, home], factor[rows, home]

    def density_ratio(self, share: Floats) -> Floats:
        """
        Density over the saturated vapor's at 25 °C, or at the top of a curve that ends below.

        Parameters
        ----------
        share : ndarray[s]
            Pressure as a share of the dew pressure there, 0 to 1 [-].

        Returns
        -------
        ndarray[n, s]
            Solved from ``share Z = x (1 - (1 - Z) x)`` [-].
        """
        factor = self._home_factor[:, None]
        root = np.sqrt(np.maximum(1 - 4 * (1 - factor) * factor * share, 0.0))
        return np.asarray(2 * factor * share / (1 + root))

    def log_pressure(self, ratio: Floats) -> Floats:
        """
        Samples of the isochores.

        Parameters
        ----------
        ratio : ndarray[n, r]
            Density over the saturated vapor's at 25 °C [-].

        Returns
        -------
        ndarray[n, r, SAMPLES]
            ln P at `basis.SAMPLE_TEMP_K` [ln Pa]; carried on below the temperature at which it would condense.
        """
        density = (self._home_density[:, None] * ratio)[:, :, None]
        factor = np.maximum(1 - self._correction[:, None, :] * density, _LEAST_FACTOR)
        return np.asarray(
            np.log(self._gas_constant[:, None, None] * density * chebyshev.SAMPLE_TEMP_K * factor)
        )
