"""Deviations from the saturation curves, tabulated so that a verdict is linear algebra only.

Temperature runs over a few Chebyshev nodes in 1/T; deviations are smooth in it, so the polynomial
through the nodes is exact to a few parts in ten thousand. At nodes that the equation of state does not
reach, the table holds the polynomial through the others; a designation's own curve says where it ends.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import Floats

Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class DenseFluids:
    """Gases of low critical temperature, m of them, in one phase.

    Parameters
    ----------
    designations : tuple of str
        Which.
    temp_k : ndarray[t]
        Rising [K].
    density_kg_m3 : ndarray[m, d]
        Rising, to somewhat above the saturated liquid's at 25 °C or at the top of the curve [kg/m3].
    log_ratio : ndarray[m, d, t], float32
        ln of pressure over density [ln Pa m3/kg]; NaN where one phase cannot be.
    """

    designations: tuple[str, ...]
    temp_k: Floats
    density_kg_m3: Floats
    log_ratio: Singles

    def log_pressure(self, row: int, density_kg_m3: Floats) -> Floats:
        """Ln of pressure [ln Pa] of one of them at densities [...] in kg/m3, [..., t]; NaN where no phase is alone."""
        wanted = np.log(density_kg_m3).ravel()
        nodes = np.log(self.density_kg_m3[row])
        ratios = [np.interp(wanted, nodes, column) for column in self.log_ratio[row].T.astype(float)]
        log_pressure = np.stack(ratios, axis=1) + wanted[:, None]
        return log_pressure.reshape(*density_kg_m3.shape, self.temp_k.size)


@dataclass(frozen=True, slots=True)
class Surfaces:
    """The arrays, designations in the order of the curves (n of them), m temperature nodes.

    ``temp_nodes_k``
        ndarray[m], [K].
    ``fill_nodes``, ``fill``
        Liquid volume fraction ndarray[nf], and ln P(T; fill) - ln P_bubble(T), ndarray[n, nf, m];
        0 for pure refrigerants.
    ``loss_nodes``, ``loss``
        Mass fraction lost as vapor ndarray[nl] from a cylinder 80 % full at 25 C, and
        ln P_bubble(what is left) - ln P_bubble(nominal), ndarray[n, nl, m]; NaN for pure ones.
    ``contaminants``, ``share_nodes``, ``mixture``
        s designations of the field, their mass fraction w ndarray[nw], and
        ln P_bubble(mixture) - [(1 - w) ln P_r + w ln P_s], ndarray[n, s, nw, m]; NaN where r is s
        or the mixture could not be computed.
    ``mixture_uncertainty``
        ndarray[n, s]: one sigma of ln P of the half-and-half mixture that comes from mixing alone;
        scales as 4 w (1 - w).
    ``air_solubility``, ``air_solubility_uncertainty``
        ndarray[n]: Ostwald coefficient of air in the liquid (concentration in liquid over that in
        vapor) at 25 C and one sigma. Estimates, see ``AIR_SOLUBILITY_SOURCE``.
    ``dense``
        Gases of low critical temperature above it.
    """

    designations: tuple[str, ...]
    temp_nodes_k: Floats
    fill_nodes: Floats
    fill: Singles
    loss_nodes: Floats
    loss: Singles
    contaminants: tuple[str, ...]
    share_nodes: Floats
    mixture: Singles
    mixture_uncertainty: Singles
    air_solubility: Floats
    air_solubility_uncertainty: Floats
    dense: DenseFluids

    def index(self, designation: str) -> int:
        """Row of a designation; ValueError if there is none."""
        return self.designations.index(designation)

    def contaminant_index(self, designation: str) -> int:
        """Column of a field contaminant; ValueError if there is none."""
        return self.contaminants.index(designation)

    def temp_weights(self, temp_k: Floats) -> Floats:
        """Weights that interpolate the temperature nodes.

        Parameters
        ----------
        temp_k : ndarray[k]
            Temperatures, [K]; held to the tabulated range.

        Returns
        -------
        ndarray[m, k]
            Each column sums to one.
        """
        return temp_weights(self.temp_nodes_k, temp_k)


AIR_SOLUBILITY_SOURCE = (
    "Estimated for air from a published argon in R-22 fit (0.85), a published nitrogen in R-227ea fit (0.77) "
    "and nitrogen by a cubic equation of state: R-22 0.45 to 0.80, R-134a 0.40 to 0.70, R-410A 0.50 to 0.90 "
    "at 25 C. The middle of all of these stands for every other designation. Not a published value."
)
"""Where the factors of dissolved air are from, as the tables' own description says it."""

TEMP_LOW_K = 233.15
"""Lowest temperature of the surfaces, that of the curves (-40 °C; a choice) [K]."""
TEMP_HIGH_K = 333.15
"""Highest temperature of the surfaces, that of the curves (60 °C; a choice) [K]."""


def reciprocal_nodes_k(count: int, low_k: float = TEMP_LOW_K, high_k: float = TEMP_HIGH_K) -> Floats:
    """Chebyshev nodes of the first kind in 1/T, rising, ndarray[count] [K]."""
    x = -np.cos(np.pi * (np.arange(count) + 0.5) / count)
    return 2 / (x * (1 / high_k - 1 / low_k) + 1 / low_k + 1 / high_k)


def temp_weights(nodes_k: Floats, temp_k: Floats) -> Floats:
    """Lagrange weights in 1/T, ndarray[m, k], for nodes [K] and temperatures [K] held to the range."""
    nodes = 1 / nodes_k
    at = 1 / np.clip(np.asarray(temp_k, dtype=float).reshape(-1), TEMP_LOW_K, TEMP_HIGH_K)
    weights = np.ones((nodes.size, at.size))
    for i, node in enumerate(nodes):
        others = np.delete(nodes, i)
        weights[i] = np.prod((at[None, :] - others[:, None]) / (node - others[:, None]), axis=0)
    return weights


def fill_holes(nodes_k: Floats, values: Floats) -> Floats:
    """Put the polynomial in 1/T through the known nodes where a value is missing.

    Parameters
    ----------
    nodes_k : ndarray[m]
        Temperature nodes, [K].
    values : ndarray[..., m]
        NaN where missing.

    Returns
    -------
    ndarray[..., m]
        Complete rows; rows with fewer than two values stay NaN.
    """
    rows = values.reshape(-1, nodes_k.size).copy()
    x = (1 / nodes_k - 1 / nodes_k.mean()) * nodes_k.mean()
    for row in rows:
        known = np.isfinite(row)
        if 2 <= known.sum() < known.size:
            series = np.polynomial.polynomial.polyfit(x[known], row[known], known.sum() - 1)
            row[~known] = np.polynomial.polynomial.polyval(x[~known], series)
        elif known.sum() < 2:
            row[:] = np.nan
    return rows.reshape(values.shape)
