"""Charges above the end of their saturation curve: carbon dioxide on a warm day, R-23, ethane.

There is no liquid then, and the pressure goes by how much is in the cylinder. Filled as cylinders are, it names the gas
by its height alone; what else is in it cannot be told.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import DenseFluids
from service.verdict import chebyshev, curve_likelihood
from service.verdict.closed_cylinder import ChargeBook
from service.verdict.evidence import Evidence
from service.verdict.quadrature_grids import BOILED_DRY, Grid, neighbour_gap

Floats = NDArray[np.float64]

MISFIT = 0.02
"""Near the critical point, against one phase's equation of state, from reading to reading (a judgement) [-]."""
_FITS = 3.3
"""Other gases that are less likely by more than this do not fit [nat]."""
_DIVIDED = 6
"""Fillings that are looked at within each cell of the grid (a choice)."""
_TEMP_K = chebyshev.SAMPLE_TEMP_K


class DenseBook:
    """
    Closed cylinders of the gases of low critical temperature, filled to the nodes of the fill grid at 25 °C.

    Parameters
    ----------
    curves
        The tabulated saturation curves.
    dense
        Pressures in one phase.
    charges
        Closed cylinders of every designation.
    fill
        The grid; the pressure bends more than its cells are wide, so each is divided.
    """

    def __init__(self, curves: SaturationCurves, dense: DenseFluids, charges: ChargeBook, fill: Grid) -> None:
        inside = (np.arange(_DIVIDED) + 0.5) / _DIVIDED
        fills = (fill.edges[:-1, None] + np.diff(fill.edges)[:, None] * inside).ravel()
        filled, vapour = charges.charges(fills), charges.vapour
        self.index = np.array([curves.index(name) for name in dense.designations], dtype=np.intp)
        tops = [curves.temp_range_k(name)[1] for name in dense.designations]
        self.top_k = np.array(tops)
        density = filled.density_kg_m3[self.index]
        self._possible = density > BOILED_DRY[-1] * vapour[self.index, None]
        bubble = np.asarray(curves.log_bubble_pressure(_TEMP_K))[self.index]
        samples = bubble[:, None, :] + filled.departure[self.index]
        for row in range(self.index.size):
            above = self.top_k[row] < _TEMP_K
            samples[row][:, above] = dense.log_pressure(row, density[row])[:, above]
        self._samples = samples
        self._smear = (0.35 * neighbour_gap(np.nan_to_num(samples[..., -1]), axis=1)) ** 2

    def evaluate(self, evidence: Evidence) -> Floats:
        """Log-likelihood [m, fills], less the same constant as the two-phase rows [nat]; -inf where it cannot be."""
        found = np.full((self.index.size, self._possible.shape[1] // _DIVIDED), -np.inf)
        above = np.flatnonzero(evidence.temp_k.max() > self.top_k)
        if above.size == 0:
            return found
        at, slope = _straight(evidence.temp_k)
        count, samples = evidence.count, self._samples[above]
        values = curve_likelihood.of_curves(
            loose := evidence.loosened(MISFIT),
            (samples @ at).reshape(-1, count),
            (samples @ slope).reshape(-1, count),
            self._smear[above].ravel(),
        ).reshape(above.size, -1)
        values += 0.5 * (evidence.log_det_pressure - loose.log_det_pressure)
        exists = self._possible[above] & np.isfinite(values)
        parts = np.where(exists, values, -np.inf).reshape(above.size, -1, _DIVIDED)
        found[above] = curve_likelihood.log_mean(parts)
        return found

    def fitting(self, evidence: Evidence) -> NDArray[np.intp]:
        """Places [found] of designations that some filling of fits about as well as the best one does."""
        best = self.evaluate(evidence).max(axis=1, initial=-np.inf)
        return np.asarray(self.index[np.isfinite(best) & (best >= best.max(initial=-np.inf) - _FITS)])


def _straight(temp_k: Floats) -> tuple[Floats, Floats]:
    """Weights [SAMPLES, k] of straight lines between the samples, and their slopes [1/K]."""
    step = _TEMP_K[1] - _TEMP_K[0]
    after = np.clip(np.searchsorted(_TEMP_K, temp_k), 1, _TEMP_K.size - 1)
    share = (temp_k - _TEMP_K[after - 1]) / step
    at, slope = np.zeros((2, _TEMP_K.size, temp_k.size))
    pairs = np.arange(temp_k.size)
    at[after - 1, pairs], at[after, pairs] = 1.0 - share, share
    slope[after - 1, pairs], slope[after, pairs] = -1.0 / step, 1.0 / step
    return at, slope
