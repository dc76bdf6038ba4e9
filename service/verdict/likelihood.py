"""Log-likelihood of all hypotheses at once, from whitened residuals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev, row_groups
from service.verdict.curve_likelihood import gaussian
from service.verdict.evidence import Evidence
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.row_groups import RowGroups, RowPrior

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

CHUNK, FULL_CHUNK = 32768, 6144
"""Rows per pass: the working arrays stay in the processor's cache."""
SURE = 0.8
"""A row that lies so many nat below the best one by its bound lies at least this share of them below: a nearly empty
blend's own profile of slope can make the bound a fifth too low (computed over the catalogue) [-]."""
STEEP = 0.6
"""Slope, over that of a typical curve, that nearly every row reaches (computed over the catalogue) [-]."""
_SEPARATE_K = 0.01
"""Makes a direction of pairs at one and the same temperature (a choice) [K]."""
_BADLY = 12.0
"""Where even the best row is less likely than this, logarithms are computed in double precision: single precision
keeps 6e-8 of such a number and of the residuals behind it (a choice) [nat]."""
_FIRST, _AT_ONCE = 1.5, 100
"""Groups so near to the best one by their bound [nat], and not more of them, tell how likely the best row is (a
choice)."""


@dataclass(frozen=True, slots=True)
class Weights:
    """
    Prior times likelihood of the rows that matter.

    Parameters
    ----------
    rows : ndarray
        Their place in the space, rising.
    weight : ndarray, float32
        Prior times the density of ln P given the temperatures, over exp(`log_scale`) [-].
    log_scale : float
        Less a constant that all hypotheses share [nat].
    """

    rows: NDArray[np.intp]
    weight: Singles
    log_scale: float


def two_phase(
    space: HypothesisSpace, groups: RowGroups, evidence: Evidence, tables: Mapping[str, RowPrior]
) -> Weights:
    """
    Prior times likelihood of every two-phase row but those that a bound rules out (`row_groups`).

    Parameters
    ----------
    space : HypothesisSpace
        The rows.
    groups : RowGroups
        Of them.
    evidence : Evidence
        k pairs.
    tables : Mapping of str to RowPrior
        ln prior of each block; -inf where a hypothesis does not exist.
    """
    bound = bounds(space, groups, evidence) + groups.prior(tables)
    first = np.flatnonzero(bound >= bound.max() - _FIRST)[:_AT_ONCE]
    rows, prior = groups.rows(first, tables)
    known = prior + _full(space, evidence, rows)
    best = float(known.max())
    if not np.isfinite(best):
        return Weights(rows[:0], prior[:0], 0.0)
    rows, prior = groups.rows(groups.likely(bound, best, float(np.exp(known - best).sum())), tables)
    return of_rows(space, evidence, rows, prior)


def of_rows(
    space: HypothesisSpace,
    evidence: Evidence,
    rows: NDArray[np.intp],
    log_prior: Singles,
) -> Weights:
    """
    Prior times likelihood of some rows.

    With one pair this is a closed expression. With more, two combinations of the residuals give every row an upper
    bound first (for any weights A, ``y'Inv(C)y >= y'A Inv(A'CA) A'y``), and only rows that the bound does not rule out
    are evaluated in full; the others get nothing.

    Parameters
    ----------
    space : HypothesisSpace
        All rows.
    evidence : Evidence
        k pairs.
    rows : ndarray
        Which of them.
    log_prior : ndarray, float32
        Of each [nat].
    """
    if evidence.count > 1:
        bound = _Plane(space, evidence).bounds(space, rows, log_prior)
        exponent, lift = _evaluate_likely(space, evidence, rows, log_prior, bound)
    else:
        lift = 0.0
        exponent, spread = _along_level(space, evidence, rows, log_prior)
    top = float(exponent.max(initial=-np.inf))
    if not np.isfinite(top):
        return Weights(rows, np.zeros(rows.size, dtype=np.float32), 0.0)
    exponent -= np.float32(top)
    np.exp(exponent, out=exponent)
    if evidence.count == 1:
        # A square root costs an eighth of the logarithm that would do the same before the exponential.
        exponent /= np.sqrt(spread)
    return Weights(rows, exponent, top + lift)


def _evaluate_likely(
    space: HypothesisSpace,
    evidence: Evidence,
    rows: NDArray[np.intp],
    log_prior: Singles,
    bound: Singles,
) -> tuple[Singles, float]:
    """
    Exponent [rows] of the rows that an upper bound does not rule out, -inf for the others; and what was taken off it.

    Where the best row is far from likely, so are all, and single precision would lose what tells them apart.
    """
    result = np.full(rows.size, -np.inf, dtype=np.float32)
    first = bound >= float(bound.max(initial=-np.inf)) - _FIRST
    known = log_prior[first] + _full(space, evidence, rows[first], np.float64)
    lift = float(known.max(initial=-np.inf))
    if not np.isfinite(lift):
        return result, 0.0
    result[first] = known - lift
    held = float(np.exp(result[first]).sum())
    rest = row_groups.likely(np.float32(SURE) * (bound - np.float32(lift)), 0.0, held)
    rest = rest[~first[rest]]
    kind = np.float64 if lift < -_BADLY else np.float32
    result[rest] = log_prior[rest] + (_full(space, evidence, rows[rest], kind) - kind(lift))
    return result, lift


def _least_determinant(evidence: Evidence) -> float:
    """Least ln of the determinant, whitened, of curves as steep as `STEEP` and more."""
    return float(np.log1p(STEEP**2 * evidence.eigenvalues).sum())


def _ways(evidence: Evidence) -> Floats:
    """
    Combinations [k, 1 or 2] of whitened residuals: along the level, and along a curve that is too steep or too flat.

    They are weighed as for a curve of the reference slope; curves differ in little else.
    """
    spread = 1.0 + evidence.eigenvalues
    level = evidence.level
    if evidence.count == 1:
        return np.asarray((level / spread)[:, None])
    away = evidence.temp_k - evidence.temp_k.mean() + _SEPARATE_K * np.arange(evidence.count)
    steep = away @ evidence.whitening
    # Without what it has in common with the level: the two are then told apart to all digits.
    steep = steep - level * float(steep @ (level / spread)) / float(level @ (level / spread))
    return np.column_stack([level / spread, steep / spread])


class _Way:
    """One combination of the residuals: exact for one pair; for more it gives an upper bound of the likelihood."""

    def __init__(self, space: HypothesisSpace, evidence: Evidence, weights: Floats) -> None:
        combined = evidence.whitening @ weights
        self.at_pairs = chebyshev.values(evidence.temp_k) @ combined
        self.observed = float(evidence.log_pressure @ combined - space.reference @ self.at_pairs)
        self.noise = float(weights @ weights)
        self.from_slope = float(weights**2 @ evidence.eigenvalues) / self.noise
        self.from_level = float(weights @ evidence.level) ** 2 / self.noise


def bounds(space: HypothesisSpace, groups: RowGroups, evidence: Evidence) -> Singles:
    """
    Upper bound [groups] of the log-likelihood of any of their rows: the least that any of `_ways` gives.

    For any weights a, ``y'Inv(C)y >= (a'y)^2 / (a'Ca)``, and a'Ca rises with slope and variance, of which the group's
    greatest are taken; the determinant is never less than one, and for rows as steep as `STEEP` never less than there.

    Parameters
    ----------
    space : HypothesisSpace
        The rows.
    groups : RowGroups
        Of them.
    evidence : Evidence
        k pairs.

    Returns
    -------
    ndarray[groups]
        Less the constant that all hypotheses share [nat].
    """
    squared = groups.steepest * groups.steepest
    distance: Singles = np.zeros_like(squared)
    for weights in _ways(evidence).T:
        way = _Way(space, evidence, weights)
        away = groups.residuals(way.at_pairs, way.observed)
        away *= away
        spread = squared * np.float32(way.from_slope * way.noise)
        spread += groups.variance * np.float32(way.from_level * way.noise)
        spread += np.float32(way.noise)
        away /= spread
        np.maximum(distance, away, out=distance)
    if evidence.count > 1:
        distance += np.float32(_least_determinant(evidence)) * (groups.flattest >= STEEP)
    distance *= np.float32(-0.5)
    return distance


def _along_level(
    space: HypothesisSpace, evidence: Evidence, rows: NDArray[np.intp], log_prior: Singles
) -> tuple[Singles, Singles]:
    """Exponent of each row of one pair, and the variance ratio under its root."""
    level = _Way(space, evidence, _ways(evidence)[:, 0])
    projection = chebyshev.slopes(evidence.temp_k) @ evidence.slope_projection()
    factors = np.ascontiguousarray(np.stack([level.at_pairs, projection]), dtype=np.float32)
    exponent, ratio = np.empty((2, rows.size), dtype=np.float32)
    for start in range(0, rows.size, CHUNK):
        part = slice(start, min(start + CHUNK, rows.size))
        residual, slope = factors @ space.coefficients.take(rows[part], axis=0).T
        np.subtract(np.float32(level.observed), residual, out=residual)
        slope += np.float32(space.reference @ projection)
        slope *= slope
        slope *= np.float32(level.from_slope)
        slope += np.float32(1.0)
        slope += np.float32(level.from_level) * space.variance.take(rows[part])
        ratio[part] = slope
        residual *= residual
        residual /= slope
        residual *= np.float32(-0.5 / level.noise)
        np.add(residual, log_prior[part], out=exponent[part])
    return exponent, ratio


class _Plane:
    """
    Two combinations of the residuals: along the level, and along a curve that is too steep or too flat.

    For more than two pairs they give an upper bound of the likelihood; curves differ in little else.
    """

    def __init__(self, space: HypothesisSpace, evidence: Evidence) -> None:
        ways = _ways(evidence)
        projection = evidence.slope_projection()
        combined = evidence.whitening @ ways
        terms = np.column_stack(
            [chebyshev.values(evidence.temp_k) @ combined, chebyshev.slopes(evidence.temp_k) @ projection]
        )
        self.factors: Singles = np.ascontiguousarray(terms.T, dtype=np.float32)
        self.observed = evidence.log_pressure @ combined - space.reference @ terms[:, :2]
        self.slope_of_reference = float(space.reference @ terms[:, 2])
        along = evidence.level @ ways
        # Covariance of the two, as sums of what is fixed, what goes with the slope squared, and with the variance.
        fixed, sloped = ways.T @ ways, (ways.T * evidence.eigenvalues) @ ways
        common = np.outer(along, along)
        places = ((0, 0), (0, 1), (1, 1))
        self.covariance = np.array([(fixed[i], sloped[i], common[i]) for i in places], dtype=np.float32)
        self.least = _least_determinant(evidence)

    def bounds(self, space: HypothesisSpace, rows: NDArray[np.intp], log_prior: Singles) -> Singles:
        """
        Upper bound of ln of each row's weight.

        In whitened coordinates the determinant is never less than one, and for a row as steep as `STEEP` never less
        than at that slope.
        """
        found = np.empty(rows.size, dtype=np.float32)
        for start in range(0, rows.size, CHUNK):
            part = slice(start, min(start + CHUNK, rows.size))
            one, two, slope = self.factors @ space.coefficients.take(rows[part], axis=0).T
            np.subtract(np.float32(self.observed[0]), one, out=one)
            np.subtract(np.float32(self.observed[1]), two, out=two)
            slope += np.float32(self.slope_of_reference)
            known = np.ones((3, slope.size), dtype=np.float32)
            np.multiply(slope, slope, out=known[1])
            space.variance.take(rows[part], out=known[2], mode="clip")
            # Of the three parts of the covariance: that of the first, what is common, that of the second.
            first, common, second = self.covariance @ known
            ratio = common / first
            two -= ratio * one
            ratio *= common
            second -= ratio
            one *= one
            one /= first
            two *= two
            two /= second
            one += two
            one += np.float32(self.least) * (slope >= STEEP)
            one *= np.float32(-0.5)
            np.add(one, log_prior[part], out=found[part])
        return found


def _full(
    space: HypothesisSpace,
    evidence: Evidence,
    rows: NDArray[np.intp],
    kind: type[Any] = np.float32,
) -> NDArray[Any]:
    """Log-likelihood [rows] of some rows, computed in single or double precision."""
    at_pairs = chebyshev.values(evidence.temp_k)
    projection = chebyshev.slopes(evidence.temp_k) @ evidence.slope_projection()
    weights = np.column_stack([at_pairs @ evidence.whitening, projection])
    observed = evidence.log_pressure @ evidence.whitening - space.reference @ weights[:, :-1]
    away, steep = observed[:, None].astype(kind), kind(space.reference @ projection)
    factors = np.ascontiguousarray(weights.T, dtype=kind)
    found = np.empty(rows.size, dtype=kind)
    for start in range(0, rows.size, FULL_CHUNK):
        part = slice(start, start + FULL_CHUNK)
        product = factors @ space.coefficients.take(rows[part], axis=0).astype(kind, copy=False).T
        whitened = np.subtract(away, product[:-1], out=product[:-1])
        slope = product[-1]
        slope += steep
        found[part] = gaussian(
            evidence, whitened, slope, space.variance.take(rows[part]).astype(kind, copy=False)
        )
    return found
