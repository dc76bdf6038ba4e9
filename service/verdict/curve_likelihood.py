"""Log-likelihood of curves that are given by value and slope at the pairs, and of residuals that are whitened."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict.evidence import Evidence

Floats = NDArray[np.float64]

FAR = 60.0
"""Curves so far below the best of their kind by an upper bound are nothing (a choice) [nat]."""


def gaussian(evidence: Evidence, whitened: NDArray, slope: NDArray, variance: NDArray) -> NDArray:  # type: ignore[type-arg]
    """
    Log-density N(residual; 0, C) for many hypotheses, C = A + c^2 S0 B S0 + u^2 11', less a constant.

    Parameters
    ----------
    evidence : Evidence
        k pairs.
    whitened : ndarray[k, rows]
        Residuals times the whitening matrix.
    slope : ndarray[rows]
        Factor c of the reference slope [-].
    variance : ndarray[rows]
        u^2, variance of a shift common to all pairs [-].

    Returns
    -------
    ndarray[rows]
        The shared constant is -k/2 ln 2 pi - 1/2 ln det A.
    """
    kind = whitened.dtype.type
    eigenvalues, level = evidence.eigenvalues.astype(kind), evidence.level.astype(kind)
    spread = eigenvalues[:, None] * (slope * slope)
    spread += kind(1.0)
    determinant = np.multiply.reduce(spread, axis=0)
    scaled = np.divide(kind(1.0), spread, out=spread)
    shared = (level * level) @ scaled
    shared *= variance
    shared += kind(1.0)
    scaled *= whitened
    along = level @ scaled
    scaled *= whitened
    total = np.add.reduce(scaled, axis=0)
    along *= along
    along *= variance
    along /= shared
    total -= along
    determinant *= shared
    total += np.log(determinant, out=determinant)
    total *= kind(-0.5)
    return np.asarray(total)


def of_curves(evidence: Evidence, log_pressure: Floats, slopes: Floats, variance: Floats) -> Floats:
    """
    Log-likelihood of curves given by value and slope at the pairs.

    Parameters
    ----------
    evidence : Evidence
        k pairs.
    log_pressure, slopes : ndarray[rows, k]
        ln P [ln Pa] and d ln P/dT [1/K] at the pairs' temperatures.
    variance : ndarray[rows]
        u^2 of each curve [-].

    Returns
    -------
    ndarray[rows]
        Less the same constant as `two_phase`.
    """
    residual = evidence.log_pressure - log_pressure
    if evidence.count == 1:
        return _of_one_pair(evidence, residual[:, 0], slopes[:, 0], variance)
    slope = slopes @ evidence.slope_projection()
    spread = np.broadcast_to(variance, residual.shape[:1]).astype(float)
    weights = evidence.level / (1.0 + evidence.eigenvalues)
    combined, noise = residual @ (evidence.whitening @ weights), float(weights @ weights)
    ratio = 1.0 + slope**2 * float(weights**2 @ evidence.eigenvalues) / noise
    ratio += spread * float(weights @ evidence.level) ** 2 / noise
    bound = -0.5 * combined**2 / (ratio * noise)
    bound[~np.isfinite(bound)] = -np.inf
    found = np.full(bound.size, -np.inf)
    near = np.flatnonzero(bound > bound.max(initial=-np.inf) - FAR)
    found[near] = gaussian(
        evidence, np.ascontiguousarray((residual[near] @ evidence.whitening).T), slope[near], spread[near]
    )
    return found


def _of_one_pair(evidence: Evidence, residual: Floats, slope: Floats, variance: Floats) -> Floats:
    """Log-likelihood [rows] of residuals of the only pair: nothing is ruled out, since a bound costs as much."""
    pressure = float(evidence.pressure_cov[0, 0])
    spread = slope * slope
    spread *= float(evidence.temp_cov[0, 0])
    spread += variance
    spread += pressure
    found = residual * residual
    found /= spread
    spread /= pressure
    found += np.log(spread)
    found *= -0.5
    found[~np.isfinite(found)] = -np.inf
    return found


def not_ruled_out(
    evidence: Evidence, log_pressure: Floats, slopes: Floats, variance: Floats
) -> NDArray[np.intp]:
    """
    Which curves are not ruled out by the first pair alone.

    For a positive definite covariance C, ``y'Inv(C)y >= y_0^2 / C_00`` (Cauchy-Schwarz), and its determinant is no
    less than that of the pressures' alone; so the first residual bounds the likelihood of all pairs from above.

    Parameters
    ----------
    evidence : Evidence
        k pairs.
    log_pressure, slopes : ndarray[rows]
        ln P [ln Pa] and d ln P/dT [1/K] at the first pair's temperature.
    variance : ndarray[rows]
        u^2 of each curve [-].

    Returns
    -------
    ndarray
        Their places, rising: those within `FAR` of the best bound.
    """
    spread = evidence.pressure_cov[0, 0] + evidence.temp_cov[0, 0] * slopes**2 + variance
    bound = -0.5 * (evidence.log_pressure[0] - log_pressure) ** 2 / spread
    bound[~np.isfinite(bound)] = -np.inf
    return np.flatnonzero(bound > bound.max(initial=-np.inf) - FAR)


def log_mean(values: Floats) -> Floats:
    """
    Logarithm of the mean of exponentials along the last axis.

    Parameters
    ----------
    values : ndarray[..., k]
        Logarithms; -inf for nothing [nat].

    Returns
    -------
    ndarray[...]
        -inf where all are nothing [nat].
    """
    top = np.maximum(values.max(axis=-1), -1e300)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(values - top[..., None]).mean(axis=-1)) + top)
