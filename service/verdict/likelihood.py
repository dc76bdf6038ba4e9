"""Log-likelihood of all hypotheses at once, from whitened residuals."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.evidence import Evidence
from service.verdict.hypotheses import HypothesisSpace

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

CHUNK, FULL_CHUNK = 32768, 6144
"""Rows per pass: the working arrays stay in the processor's cache."""
NEGLIGIBLE = 20.0
"""Rows below exp(-20) of the best one by their upper bound keep it; a nearly empty blend's own profile of slope can
make the bound a fifth too low, exp(-16) (a choice) [nat]."""
STEEP = 0.6
"""Slope, over that of a typical curve, that nearly every row reaches (computed over the catalogue) [-]."""


def two_phase(space: HypothesisSpace, evidence: Evidence, log_prior: Singles) -> tuple[Singles, float]:
    """
    Prior times likelihood of every two-phase row.

    With one pair this is a closed expression. With more, the residual along the level direction gives every
    row an upper bound first (for any weights a, ``y'Inv(C)y >= (a'y)^2 / a'Ca``), and only rows that the
    bound does not rule out are evaluated in full.

    Parameters
    ----------
    space : HypothesisSpace
        The rows.
    evidence : Evidence
        k pairs.
    log_prior : ndarray[H], float32
        -inf where a hypothesis does not exist.

    Returns
    -------
    weight : ndarray[H], float32
        Prior times the density of ln P given the temperatures, over exp(`log_scale`).
    log_scale : float
        Less a constant that all hypotheses share.
    """
    exponent, spread = _along_level(space, evidence, log_prior)
    if evidence.count > 1:
        _evaluate_likely(space, evidence, log_prior, exponent)
    top = float(exponent.max())
    for start in range(0, space.size, CHUNK):
        piece = exponent[start : start + CHUNK]
        piece -= np.float32(top)
        np.exp(piece, out=piece)
        if evidence.count == 1:
            # A square root costs an eighth of the logarithm that would do the same before the exponential.
            piece /= np.sqrt(spread[start : start + CHUNK])
    return exponent, top


def _evaluate_likely(space: HypothesisSpace, evidence: Evidence, log_prior: Singles, result: Singles) -> None:
    """Put the full value in the place of each upper bound that does not rule its row out."""
    bound = result.copy()
    best, upper, floor = -np.inf, np.inf, float(bound.max()) - NEGLIGIBLE
    while floor < upper:
        rows = np.flatnonzero((bound >= floor) & (bound < upper))
        for start in range(0, rows.size, FULL_CHUNK):
            part = rows[start : start + FULL_CHUNK]
            result[part] = log_prior[part] + _full(space, evidence, part)
            best = max(best, float(result[part].max()))
        upper, floor = floor, best - NEGLIGIBLE


def _along_level(space: HypothesisSpace, evidence: Evidence, log_prior: Singles) -> tuple[Singles, Singles]:
    """Exponent of every row from one combination of the residuals, and the variance ratio under its root.

    Exact for one pair. For more it is an upper bound, and the ratio is in it: in whitened coordinates the
    determinant is never less than one, and for a row as steep as `STEEP` never less than at that slope.
    """
    weights = evidence.level / (1.0 + evidence.eigenvalues)
    combined = evidence.whitening @ weights
    at_pairs = chebyshev.values(evidence.temp_k) @ combined
    projection = chebyshev.slopes(evidence.temp_k) @ evidence.slope_projection()
    observed = float(evidence.log_pressure @ combined - space.reference @ at_pairs)
    slope_of_reference = float(space.reference @ projection)
    noise = float(weights @ weights)
    from_slope = float(weights**2 @ evidence.eigenvalues) / noise
    from_level = float(weights @ evidence.level) ** 2 / noise
    factors = np.ascontiguousarray(np.stack([at_pairs, projection]), dtype=np.float32)
    exponent, ratio = np.empty((2, space.size), dtype=np.float32)
    least = np.float32(np.log1p(STEEP**2 * evidence.eigenvalues).sum())
    for start in range(0, space.size, CHUNK):
        rows = slice(start, min(start + CHUNK, space.size))
        residual, slope = factors @ space.coefficients[:, rows]
        np.subtract(np.float32(observed), residual, out=residual)
        slope += np.float32(slope_of_reference)
        steep = slope >= STEEP if evidence.count > 1 else None
        slope *= slope
        slope *= np.float32(from_slope)
        slope += np.float32(1.0)
        np.multiply(space.variance[rows], np.float32(from_level), out=ratio[rows])
        slope += ratio[rows]
        ratio[rows] = slope
        residual *= residual
        residual /= slope
        residual *= np.float32(-0.5 / noise)
        if steep is not None:
            residual -= np.float32(0.5) * least * steep
        np.add(residual, log_prior[rows], out=exponent[rows])
    return exponent, ratio


def _full(space: HypothesisSpace, evidence: Evidence, rows: NDArray[np.intp]) -> Singles:
    at_pairs = chebyshev.values(evidence.temp_k)
    projection = chebyshev.slopes(evidence.temp_k) @ evidence.slope_projection()
    weights = np.column_stack([at_pairs @ evidence.whitening, projection])
    observed = evidence.log_pressure @ evidence.whitening - space.reference @ weights[:, :-1]
    product = np.ascontiguousarray(weights.T, dtype=np.float32) @ space.coefficients.take(rows, axis=1)
    whitened = np.subtract(observed[:, None].astype(np.float32), product[:-1], out=product[:-1])
    slope = product[-1]
    slope += np.float32(space.reference @ projection)
    return np.asarray(gaussian(evidence, whitened, slope, space.variance[rows]))


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
