"""Curves ln P(T) as short Chebyshev expansions in 1/T: smooth enough that seven terms are exact to 0.02 % at worst.

Every hypothesis is one row of coefficients, so evaluating all of them at any temperatures is one product of
matrices, and a mixture's row is a linear combination of rows.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from service.verdict.evidence import TEMP_RANGE_K

Floats = NDArray[np.float64]

TERMS = 7
"""Terms of a row's series in 1/T (a choice: the tests hold what it leaves)."""
PARTIAL_TERMS = 6
"""For curves that end below 60 °C (near-critical ones): fewer terms, fitted over their own range."""
SAMPLES = 41
"""Temperatures at which a curve is sampled before its series is fitted (a choice)."""
_INVERSE_LOW, _INVERSE_HIGH = 1.0 / TEMP_RANGE_K[1], 1.0 / TEMP_RANGE_K[0]
"""Ends of the range in 1/T, of the highest and the lowest temperature (computed) [1/K]."""

SAMPLE_TEMP_K: Floats = np.linspace(TEMP_RANGE_K[0], TEMP_RANGE_K[1], SAMPLES)
"""Where curves are sampled to be fitted [K]."""

HOME = int(np.abs(SAMPLE_TEMP_K - 298.15).argmin())
"""The sample nearest to 25 °C, where fills and densities are stated (computed) [-]."""


def home_of(known: NDArray[np.bool_]) -> NDArray[np.intp]:
    """
    Where each curve's home is among the samples.

    Parameters
    ----------
    known : ndarray[n, SAMPLES] of bool
        Where the curve exists.

    Returns
    -------
    ndarray[n]
        The sample at 25 °C, or the last one of a curve that ends below.
    """
    last = known.shape[1] - 1 - known[:, ::-1].argmax(axis=1)
    return np.asarray(np.minimum(last, HOME))


def _scaled(temp_k: Floats) -> Floats:
    return (2.0 / temp_k - _INVERSE_LOW - _INVERSE_HIGH) / (_INVERSE_HIGH - _INVERSE_LOW)


def node_temp_k(count: int) -> Floats:
    """Chebyshev nodes [count] of the range in 1/T, as temperatures [K]."""
    x = np.cos((np.arange(count) + 0.5) * np.pi / count)
    return 2.0 / (x * (_INVERSE_HIGH - _INVERSE_LOW) + _INVERSE_LOW + _INVERSE_HIGH)


_OF_POWERS: Floats = np.stack(
    [np.pad(chebyshev.cheb2poly(row[: j + 1]), (0, TERMS - 1 - j)) for j, row in enumerate(np.eye(TERMS))]
)
"""Each Chebyshev polynomial's coefficients of the powers of x (computed), ndarray[TERMS, TERMS]."""


_DERIVATIVE = np.stack(
    [np.pad(d := chebyshev.chebder(np.eye(TERMS)[j]), (0, TERMS - d.size))[:TERMS] for j in range(TERMS)]
)
"""Each polynomial's derivative as a series of the same polynomials (computed), ndarray[TERMS, TERMS]."""


def values(temp_k: Floats) -> Floats:
    """Basis functions [TERMS, k] at temperatures [K]; not to be written to."""
    return with_slopes(temp_k)[0]


def slopes(temp_k: Floats) -> Floats:
    """Derivatives [TERMS, k] of the basis with respect to temperature [1/K]; not to be written to."""
    return with_slopes(temp_k)[1]


def with_slopes(temp_k: Floats) -> tuple[Floats, Floats]:
    """Basis functions [-] and their derivatives [1/K] at temperatures [K], [TERMS, k] each; not to be written to."""
    return _with_slopes(np.asarray(temp_k, dtype=np.float64).tobytes())


@lru_cache(maxsize=32)
def _with_slopes(temps: bytes) -> tuple[Floats, Floats]:
    """Kept for the last few sets of temperatures: one verdict asks for those of its pairs some twenty times."""
    at, slope = once_with_slopes(np.frombuffer(temps))
    at.flags.writeable = slope.flags.writeable = False
    return at, slope


def once_with_slopes(temp_k: Floats) -> tuple[Floats, Floats]:
    """As `with_slopes`, of temperatures [k] [K] that are not asked for again."""
    powers = np.ones((TERMS, temp_k.size))
    # A general power takes far longer than six products.
    np.multiply.accumulate(np.broadcast_to(_scaled(temp_k), (TERMS - 1, temp_k.size)), axis=0, out=powers[1:])
    at = np.asarray(_OF_POWERS @ powers)
    inner = -2.0 / (temp_k**2 * (_INVERSE_HIGH - _INVERSE_LOW))
    return at, np.asarray((_DERIVATIVE @ at) * inner)


_FULL_FIT = np.linalg.pinv(values(SAMPLE_TEMP_K).T)


def fit(samples: Floats) -> Floats:
    """
    Coefficients of curves from samples at `SAMPLE_TEMP_K`.

    Parameters
    ----------
    samples : ndarray[..., SAMPLES]
        ln P [ln Pa]; NaN where the curve does not exist.

    Returns
    -------
    ndarray[..., TERMS]
        Zero rows where fewer than `PARTIAL_TERMS` + 2 samples exist.
    """
    rows = samples.reshape(-1, SAMPLES)
    finite = np.isfinite(rows)
    complete = finite.all(axis=1)
    coefficients = np.zeros((rows.shape[0], TERMS))
    coefficients[complete] = rows[complete] @ _FULL_FIT.T
    design = values(SAMPLE_TEMP_K).T[:, :PARTIAL_TERMS]
    partial = ~complete & (finite.sum(axis=1) >= PARTIAL_TERMS + 2)
    at = np.flatnonzero(partial)
    # One number for each pattern of gaps: sorting rows of truths is far slower.
    _, first, which = np.unique(
        finite[at] @ 2.0 ** np.arange(SAMPLES), return_index=True, return_inverse=True
    )
    for index, pattern in enumerate(finite[at[first]]):
        members = at[which == index]
        solution = np.linalg.pinv(design[pattern]) @ rows[np.ix_(members, np.flatnonzero(pattern))].T
        coefficients[members, :PARTIAL_TERMS] = solution.T
    return coefficients.reshape(*samples.shape[:-1], TERMS)


def valid_range_k(samples: Floats) -> tuple[Floats, Floats]:
    """
    Lowest and highest temperature of each curve.

    Parameters
    ----------
    samples : ndarray[..., SAMPLES]
        As for `fit`.

    Returns
    -------
    tuple of ndarray[...]
        Lowest and highest sample temperature with a value [K]; an empty range where there is none.
    """
    finite = np.isfinite(samples)
    low = np.where(finite, SAMPLE_TEMP_K, np.inf).min(axis=-1)
    high = np.where(finite, SAMPLE_TEMP_K, -np.inf).max(axis=-1)
    return low, high
