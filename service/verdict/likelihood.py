"""Log-likelihood of all hypotheses at once, from whitened residuals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict import basis
from service.verdict.evidence import Evidence
from service.verdict.hypotheses import HypothesisSpace

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

CHUNK = 16384
"""Rows per pass: the working arrays stay in the processor's cache."""


def two_phase(space: HypothesisSpace, evidence: Evidence) -> Singles:
    """
    Log-likelihood of every two-phase row.

    Parameters
    ----------
    space : HypothesisSpace
        The rows.
    evidence : Evidence
        k pairs.

    Returns
    -------
    ndarray[H], float32
        ln of the density of ln P given the temperatures, less the constant that all hypotheses share.
    """
    at_pairs = basis.values(evidence.temp_k)
    projection = basis.slopes(evidence.temp_k) @ evidence.slope_projection()
    weights = np.column_stack([at_pairs @ evidence.whitening, projection])
    observed = evidence.log_pressure @ evidence.whitening - space.reference @ weights[:, :-1]
    base_slope = float(space.reference @ projection)
    weights32 = np.ascontiguousarray(weights.T, dtype=np.float32)
    result = np.empty(space.size, dtype=np.float32)
    for start in range(0, space.size, CHUNK):
        rows = slice(start, min(start + CHUNK, space.size))
        product = weights32 @ space.coefficients[:, rows]
        whitened = np.subtract(observed[:, None].astype(np.float32), product[:-1], out=product[:-1])
        slope = product[-1]
        slope += np.float32(base_slope)
        result[rows] = gaussian(evidence, whitened, slope, space.variance[rows])
    return result


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
    squared = slope * slope
    kind = whitened.dtype.type
    total = np.zeros_like(slope)
    along = np.zeros_like(slope)
    level = np.zeros_like(slope)
    determinant = np.ones_like(slope)
    for z, eigenvalue, e in zip(whitened, evidence.eigenvalues, evidence.level, strict=True):
        spread = squared * kind(eigenvalue)
        spread += kind(1.0)
        determinant *= spread
        scaled = z / spread
        total += z * scaled
        scaled *= kind(e)
        along += scaled
        np.divide(kind(e * e), spread, out=spread)
        level += spread
    level *= variance
    level += kind(1.0)
    total -= variance * along * along / level
    determinant *= level
    total += np.log(determinant)
    total *= kind(-0.5)
    return total


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
    return np.asarray(
        gaussian(
            evidence,
            np.ascontiguousarray((residual @ evidence.whitening).T),
            slopes @ evidence.slope_projection(),
            np.broadcast_to(variance, residual.shape[:1]).astype(float),
        )
    )
