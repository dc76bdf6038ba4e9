"""States without the balance of liquid and vapor: vapor alone, liquid alone, and something else."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import DenseFluids
from service.verdict import chebyshev, curve_likelihood, quadrature_grids
from service.verdict.closed_cylinder import ChargeBook
from service.verdict.dense import DenseBook
from service.verdict.evidence import Evidence, reference_slope
from service.verdict.quadrature_grids import REFERENCE_TEMP_K, Grid
from service.verdict.vapour import Isochores

Floats = NDArray[np.float64]

STIFFNESS_PA_K = (0.4e6, 0.8e6, 1.2e6)
"""Rise of a liquid-full cylinder's pressure: expansion over compressibility of common refrigerants at 25 °C,
about 0.75 to 1.1 MPa/K from memory, lowered by dissolved air and the cylinder's own give [Pa/K]."""
VAPOUR_MISFIT = 0.006
"""A vapor's isochore against the equation of state, from one reading to the next (computed; near-critical ones are
further off) [-]."""
_CARRIED_ON_K = 5.0
"""How far below the temperature at which a heel boils dry its vapor's curve is still used (a choice) [K]."""
_OTHER_MEAN, _OTHER_SPREAD = np.log(8e5), 1.3
"""ln of the pressure at 25 °C of contents outside the catalogue, about 0.8 MPa, and its standard deviation
(judgements, no source) [ln Pa]."""
_OTHER_SLOPE_SPREAD_PER_K = 0.008
"""Standard deviation of their slope of ln P about the typical one (a judgement, no source) [1/K]."""
OPEN_PA, CHARGED_PA = (65e3, 110e3), (110e3, 1.5e6)
"""Pressure at 25 °C of an open cylinder, anywhere people live, and of one under a holding charge of nitrogen or air
(judgements, no source) [Pa]."""
OPEN_SHARE = 0.7
"""So many of the cylinders without refrigerant are open or were shut while open (a judgement, no source) [-]."""
_SHUT_SPREAD, _SHUT_TEMP_K = 0.03, 293.15
"""Of those that were shut: standard deviation of ln P against the atmosphere now, by 8 K and the weather, and the
temperature they were shut at (judgements, no source) [-], [K]."""
_GAS_NODES = 24
"""Nodes of the pressure of a gas that does not condense (a choice)."""
_INCONSISTENT_SPREAD = 0.3
"""Standard deviation of ln P of readings that agree with no curve (a judgement, no source) [-]."""
_INCONSISTENT_SHARE = 0.1
"""So many of the contents outside the catalogue are such readings (a judgement, no source) [-]."""


@dataclass(frozen=True, slots=True)
class SinglePhase:
    """Log-likelihoods [-], less the same constant as the two-phase rows; -inf where the state cannot be.

    Parameters
    ----------
    vapour : ndarray[n, shares]
        Per node of the vapor grid, and of what has boiled dry above 25 °C.
    boiled_dry : ndarray[shares]
        Which those are: they count among the fills, not among the heels of vapor.
    condensed : ndarray[n, shares]
        Heels of vapor that hold some liquid at every reading: clean, and two-phase.
    full : ndarray[n]
        With overpressure and stiffness integrated out.
    something_else : float
        A curve unlike any of the catalogue's, or readings that agree with no curve.
    no_refrigerant : float
        Air or nitrogen alone, open or under a holding charge.
    dense : ndarray[m, fills]
        Gases above the end of their saturation curve, by `dense_index`.
    dense_index : ndarray[m]
        Which designations those are.
    """

    vapour: Floats
    boiled_dry: NDArray[np.bool_]
    condensed: NDArray[np.bool_]
    full: Floats
    something_else: float
    no_refrigerant: float
    dense: Floats
    dense_index: NDArray[np.intp]


class SinglePhaseBook:
    """Evaluates the states without a saturation curve."""

    def __init__(self, curves: SaturationCurves, charges: ChargeBook, dense: DenseFluids, fill: Grid) -> None:
        self._bubble = chebyshev.fit(curves.log_bubble_pressure(chebyshev.SAMPLE_TEMP_K))
        ranges = np.array([curves.temp_range_k(name) for name in curves.designations])
        self._low_k, self._high_k = ranges[:, :1] - 1e-6, ranges[:, 1:] + 1e-6
        self.vapour: Grid = quadrature_grids.vapour_grid()
        self._overpressure = quadrature_grids.overpressure_grid()
        isochores, boiled = Isochores(curves), np.array(quadrature_grids.BOILED_DRY)
        within = isochores.density_ratio(self.vapour.edges)
        beyond = np.broadcast_to(boiled[1:], (within.shape[0], boiled.size - 1))
        self.density_edges = np.concatenate([within, beyond], axis=1)
        ratio = (self.density_edges[:, 1:] + self.density_edges[:, :-1]) / 2
        self._boiled_dry = np.arange(ratio.shape[1]) >= self.vapour.nodes.size
        samples, self._heels = isochores.log_pressure(ratio), charges.heels(ratio)
        self.dense = DenseBook(curves, dense, charges, fill)
        for row, index in enumerate(self.dense.index):
            solved = dense.log_pressure(row, charges.vapour[index] * ratio[index])
            samples[index] = np.where(np.isfinite(solved), solved, samples[index])
        used = self._heels.dry_k[:, :, None] - _CARRIED_ON_K < chebyshev.SAMPLE_TEMP_K
        dry = chebyshev.fit(np.where(used, samples, np.nan))
        wet = self._bubble[:, None, :] + chebyshev.fit(self._heels.departure)
        self._dry, self._wet = (
            np.ascontiguousarray(one.reshape(-1, chebyshev.TERMS).T) for one in (dry, wet)
        )
        self._smear = (0.35 * quadrature_grids.neighbour_gap(np.log(ratio), axis=1).ravel()) ** 2

    def evaluate(self, evidence: Evidence) -> SinglePhase:
        """Log-likelihoods of all three states for k pairs."""
        with np.errstate(invalid="ignore"):
            vapour, condensed = self._vapour_only(evidence)
            return SinglePhase(
                vapour=vapour,
                boiled_dry=self._boiled_dry,
                condensed=condensed,
                full=self._liquid_full(evidence),
                something_else=_something_else(evidence),
                no_refrigerant=_no_refrigerant(evidence),
                dense=self.dense.evaluate(evidence),
                dense_index=self.dense.index,
            )

    def _inside(self, temp_k: Floats) -> NDArray[np.bool_]:
        """Where each curve exists [n, k] among temperatures [K]."""
        return np.asarray((temp_k >= self._low_k) & (temp_k <= self._high_k))

    def _vapour_only(self, evidence: Evidence) -> tuple[Floats, NDArray[np.bool_]]:
        temp, dry_k = evidence.temp_k, self._heels.dry_k
        throughout = np.asarray(temp.max() < dry_k)
        inside = np.asarray(self._inside(temp).all(axis=1))
        exists = ~(throughout & self._boiled_dry) & (inside[:, None] | (temp.min() >= dry_k))
        loose, every = evidence.loosened(VAPOUR_MISFIT), slice(None)
        first, first_slope = self._vapour_curves(temp[:1], every)
        rows = np.flatnonzero(exists.ravel())
        curves = first[rows], first_slope[rows]
        if temp.size > 1:
            rows = rows[
                curve_likelihood.not_ruled_out(loose, curves[0][:, 0], curves[1][:, 0], self._smear[rows])
            ]
            curves = self._vapour_curves(temp, rows)
        result = np.full(dry_k.shape, -np.inf)
        values = curve_likelihood.of_curves(loose, *curves, self._smear[rows])
        result.ravel()[rows] = values + 0.5 * (evidence.log_det_pressure - loose.log_det_pressure)
        return result, throughout

    def _vapour_curves(self, temp_k: Floats, rows: NDArray[np.intp] | slice) -> tuple[Floats, Floats]:
        """Ln P [rows, k] [ln Pa] of some vapors and its slope [1/K].

        A vapor that was dry when warm condenses when cold, and then stands between dew and bubble pressure.
        """
        weights = np.concatenate(chebyshev.with_slopes(temp_k), axis=1).T
        condensed = np.tile(temp_k[:, None] < self._heels.dry_k.ravel()[rows], (2, 1))
        both = np.where(condensed, weights @ self._wet[:, rows], weights @ self._dry[:, rows]).T
        return both[:, : temp_k.size], both[:, temp_k.size :]

    def _liquid_full(self, evidence: Evidence) -> Floats:
        """Each designation [n] over all overpressures and stiffnesses, ways [m] that it may be full."""
        temp, over = evidence.temp_k, self._overpressure
        at, slope = chebyshev.with_slopes(temp)
        saturation = np.exp(np.where(self._inside(temp), self._bubble @ at, np.nan))
        rise = saturation * (self._bubble @ slope)
        stiffness = np.array(STIFFNESS_PA_K if evidence.count > 1 else STIFFNESS_PA_K[1:2])
        extra = over.nodes[:, None, None] + stiffness[:, None] * (temp - temp.mean())
        stiff = np.where(extra > 0, stiffness[:, None], 0.0).reshape(-1, temp.size)
        extra = np.maximum(extra, 0.0).reshape(-1, temp.size)
        gap = np.log(over.nodes[1] / over.nodes[0]) * np.repeat(over.nodes, stiffness.size)
        spread = 0.35 * gap / (saturation.mean(axis=1)[:, None] + extra.mean(axis=1))
        first = saturation[:, :1] + extra[:, 0]
        first_slope, variance = (rise[:, :1] + stiff[:, 0]) / first, (spread**2).ravel()
        logs, first_slope = np.log(first).reshape(-1, 1), first_slope.reshape(-1, 1)
        if temp.size == 1:
            every = curve_likelihood.of_curves(evidence, logs, first_slope, variance)
            return curve_likelihood.log_mean(every.reshape(first.shape))
        rows = curve_likelihood.not_ruled_out(evidence, logs[:, 0], first_slope[:, 0], variance)
        which, way = np.divmod(rows, extra.shape[0])
        pressure = saturation[which] + extra[way]
        slopes = (rise[which] + stiff[way]) / pressure
        values = np.full(first.shape, -np.inf)
        values.ravel()[rows] = curve_likelihood.of_curves(evidence, np.log(pressure), slopes, variance[rows])
        return curve_likelihood.log_mean(values)


def _something_else(evidence: Evidence) -> float:
    """A broad level and slope about a typical curve; a tenth of it: readings that agree with no curve."""
    temp = evidence.temp_k
    typical = _OTHER_MEAN + np.log(_typical_shape(temp))
    slopes = reference_slope(temp)
    away = temp - REFERENCE_TEMP_K
    broad = np.full((temp.size, temp.size), _OTHER_SPREAD**2)
    broad += _OTHER_SLOPE_SPREAD_PER_K**2 * away[:, None] * away[None, :]
    clean = evidence.covariance(slopes, 0.0) + broad
    loose = clean + _INCONSISTENT_SPREAD**2 * np.eye(temp.size)
    residual = evidence.log_pressure - typical
    one = np.log1p(-_INCONSISTENT_SHARE) + _log_density(residual, clean)
    other = np.log(_INCONSISTENT_SHARE) + _log_density(residual, loose)
    return float(np.logaddexp(one, other) + 0.5 * evidence.log_det_pressure)


def _no_refrigerant(evidence: Evidence) -> float:
    """A gas that does not condense: at the atmosphere, or in proportion to temperature at any level of a range."""
    temp = evidence.temp_k
    inverse, log_det = _inverse(evidence.covariance(1.0 / temp, 0.0))
    terms: list[float] = []
    ranges = [(CHARGED_PA, 1.0 - OPEN_SHARE)]
    if evidence.log_over_air is None or evidence.gauge_cov is None:
        ranges.append((OPEN_PA, OPEN_SHARE))
    else:
        shut = evidence.log_over_air - np.log(temp / _SHUT_TEMP_K)
        open_now = _log_density(evidence.log_over_air, evidence.gauge_cov)
        since = _log_density(shut, evidence.gauge_cov + _SHUT_SPREAD**2)
        terms.append(float(np.logaddexp(open_now, since) + np.log(OPEN_SHARE / 2)))
    for (low, high), share in ranges:
        level, width = _levels(low, high)
        residual = evidence.log_pressure - level[:, None] - np.log(temp / REFERENCE_TEMP_K)
        loose = inverse - np.outer(inverse.sum(axis=0), inverse.sum(axis=0)) / (
            inverse.sum() + 1.0 / (width / 3.0) ** 2
        )
        square = np.einsum("ni,ij,nj->n", residual, loose, residual)
        spread = log_det + np.log1p((width / 3.0) ** 2 * inverse.sum())
        terms.append(float(np.logaddexp.reduce(-0.5 * (square + spread)) + np.log(share / _GAS_NODES)))
    return float(np.logaddexp.reduce(terms) + 0.5 * evidence.log_det_pressure)


@lru_cache(maxsize=2)
def _levels(low_pa: float, high_pa: float) -> tuple[Floats, float]:
    """Nodes [`_GAS_NODES`] of ln P between two pressures [Pa], [ln Pa], and their distance [-]."""
    edges = np.linspace(np.log(low_pa), np.log(high_pa), _GAS_NODES + 1)
    return (edges[1:] + edges[:-1]) / 2, float(edges[1] - edges[0])


def _inverse(covariance: Floats) -> tuple[Floats, float]:
    if covariance.size == 1:
        return 1.0 / covariance, math.log(covariance[0, 0])
    return np.asarray(np.linalg.inv(covariance)), float(np.linalg.slogdet(covariance)[1])


def _typical_shape(temp_k: Floats) -> Floats:
    """Shape of a typical saturation curve, 1 at 25 °C [-]."""
    scale = reference_slope(np.array([REFERENCE_TEMP_K]))[0] * REFERENCE_TEMP_K**2
    return np.asarray(np.exp(scale * (1.0 / REFERENCE_TEMP_K - 1.0 / temp_k)))


def _log_density(residual: Floats, covariance: Floats) -> float:
    if covariance.size == 1:
        return float(-0.5 * (residual[0] ** 2 / covariance[0, 0] + math.log(covariance[0, 0])))
    _, log_det = np.linalg.slogdet(covariance)
    return float(-0.5 * (residual @ np.linalg.solve(covariance, residual) + log_det))
