"""Residuals of ln P and their covariance: noise, shared biases, atmosphere, and the curve's own uncertainty.

For pairs i = 1..k and a hypothesis with curve ln P_h(T) and slopes s_i = d ln P_h / dT:

``y_i = ln P_i - ln P_h(T_i)``, ``C = A + S B S + u_h^2 11'`` with ``S = diag(s_i)``.

A is the covariance of ln P from the pressure side (noise, gauge zero and gain, atmosphere), B that of the
temperatures (noise, thermometer offset), u_h the uncertainty of the curve. Saturation curves share one
profile of slope over temperature up to a factor c, s_i = c s0(T_i) with s0 proportional to 1/T^2
(Clausius-Clapeyron with a constant heat of vaporisation), so that one generalised eigenproblem of
(A, S0 B S0) per verdict whitens every hypothesis at once: its covariance is then diagonal,
1 + c^2 lambda_j, plus rank one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from service.verdict.errors import InvalidEvidence
from service.verdict.model import Pair

Floats = NDArray[np.float64]

TEMP_RANGE_K = (233.15, 333.15)
"""Span of the tabulated curves, -40 to 60 °C (a choice) [K]."""
PRESSURE_RANGE_PA = (100.0, 2.0e7)
"""Below: an evacuated cylinder or a dead sensor; above: no gauge of this trade (a choice) [Pa]."""
MAX_PAIRS = 512
"""Most pairs of one question, so that none takes the server's memory (a choice)."""
REFERENCE_SLOPE_PER_K = 0.027
"""Typical slope of ln P at 25 °C, 2.1 to 3.1 % per kelvin over the catalogue (computed); only a scale [1/K]."""
_NOISE_FLOOR = 1e-5
"""Least standard uncertainty of ln P, which keeps the covariance invertible (a choice) [-]."""
_REFERENCE_TEMP_K = 298.15
"""25 °C, at which the reference slope holds (a choice) [K]."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """k pairs, ready to be compared with any number of curves.

    Parameters
    ----------
    temp_k, log_pressure : ndarray[k]
        As read [K], [ln Pa].
    pressure_cov : ndarray[k, k]
        Covariance of ln P from the pressure side [-].
    temp_cov : ndarray[k, k]
        Covariance of the temperatures [K2].
    whitening : ndarray[k, k]
        V with V'AV = 1 and V' S0 B S0 V = diag(eigenvalues).
    eigenvalues : ndarray[k]
        Of the temperature part against the pressure part, for the reference slope.
    level : ndarray[k]
        V'1: how a shift of ln P common to all pairs looks when whitened.
    log_det_pressure : float
        ln det A.
    log_over_air : ndarray[k] or None
        ln of the pressure over the atmosphere that the gauge was against [-]; None where any was read absolute.
    gauge_cov : ndarray[k, k] or None
        A without the atmosphere's part, which a gauge in open air does not see [-].
    """

    temp_k: Floats
    log_pressure: Floats
    pressure_cov: Floats
    temp_cov: Floats
    whitening: Floats
    eigenvalues: Floats
    level: Floats
    log_det_pressure: float
    log_over_air: Floats | None = None
    gauge_cov: Floats | None = None

    @property
    def count(self) -> int:
        """Number of pairs."""
        return int(self.temp_k.size)

    @property
    def constant(self) -> float:
        """Left out by all log-likelihoods [nat]: ln of the density's normalization with the pressures' covariance."""
        return -0.5 * (self.count * math.log(2 * math.pi) + self.log_det_pressure)

    @property
    def at_atmosphere(self) -> bool:
        """Whether every gauge reading is that of a gauge in open air, within two of its standard uncertainties."""
        if self.log_over_air is None or self.gauge_cov is None:
            return False
        return bool((np.abs(self.log_over_air) <= 2.0 * np.sqrt(np.diag(self.gauge_cov))).all())

    def loosened(self, misfit: float) -> Evidence:
        """The same pairs for curves that are off by `misfit` in ln P [-], independently at each pair."""
        wider = self.pressure_cov + misfit**2 * np.eye(self.count)
        return _whiten(self.temp_k, self.log_pressure, wider, self.temp_cov)

    def slope_projection(self) -> Floats:
        """Weights [k] that turn slopes d ln P/dT at the pairs into the factor c of the reference slope [K]."""
        reference = reference_slope(self.temp_k)
        return np.asarray(reference / float(reference @ reference))

    def covariance(self, slopes: Floats, curve_variance: float) -> Floats:
        """Covariance [k, k] of one hypothesis' residuals [-], of slopes [1/K] and a curve variance [-]; for checks."""
        from_temperature = slopes[:, None] * self.temp_cov * slopes[None, :]
        return np.asarray(self.pressure_cov + from_temperature + curve_variance)


def reference_slope(temp_k: Floats) -> Floats:
    """Slope of a typical saturation curve, d ln P/dT [1/K], at temperatures [k]."""
    return REFERENCE_SLOPE_PER_K * (_REFERENCE_TEMP_K / temp_k) ** 2


def check(pairs: Sequence[Pair]) -> None:
    """Refuse what no verdict can be built on.

    Parameters
    ----------
    pairs : sequence of Pair
        Any values.

    Raises
    ------
    InvalidEvidence
        Naming field, value and what was expected.
    """
    if not 1 <= len(pairs) <= MAX_PAIRS:
        raise InvalidEvidence("pairs", len(pairs), f"between 1 and {MAX_PAIRS} pairs")
    for index, pair in enumerate(pairs):
        where = f"pairs.{index}."
        _check_range(
            where + "temp_k", pair.temp_k, *TEMP_RANGE_K, "between 233.15 and 333.15 K (-40 and 60 °C)"
        )
        _check_range(
            where + "pressure_pa",
            pair.pressure_pa,
            *PRESSURE_RANGE_PA,
            "an absolute pressure between 100 Pa and 20 MPa",
        )
        for name, greatest in _UNCERTAINTIES:
            expected = f"a standard uncertainty from 0 to {greatest:g}"
            _check_range(where + name, getattr(pair, name), 0.0, greatest, expected)


_UNCERTAINTIES = (
    ("temp_noise_k", 100.0),
    ("temp_bias_k", 100.0),
    ("pressure_noise_pa", 1e7),
    ("pressure_bias_pa", 1e7),
    ("gain_bias", 1.0),
    ("atmosphere_bias_pa", 1e5),
)
"""Greatest standard uncertainty that is taken of each field, in its unit: K, Pa, or [-] of the gain (a choice)."""


def _check_range(field: str, value: float, low: float, high: float, expected: str) -> None:
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or not low <= value <= high:
        raise InvalidEvidence(field, value, expected)


def covariances(pairs: Sequence[Pair]) -> tuple[Floats, Floats]:
    """
    Covariance of ln P from the pressure side and of the temperatures, in the order given.

    Parameters
    ----------
    pairs : sequence of Pair
        k pairs.

    Returns
    -------
    tuple of ndarray[k, k]
        A [-] and B [K2].
    """
    pressure = np.array([p.pressure_pa for p in pairs])
    noise = np.array([p.pressure_noise_pa for p in pairs]) / pressure
    zero = np.array([p.pressure_bias_pa for p in pairs]) / pressure
    gain = np.array([p.gain_bias for p in pairs])
    atmosphere = np.array([p.atmosphere_bias_pa for p in pairs]) / pressure
    gauges = [p.pressure_device for p in pairs]
    pressure_cov = (
        np.diag(noise**2 + _NOISE_FLOOR**2)
        + _shared(gauges, zero)
        + _shared(gauges, gain)
        + atmosphere[:, None] * atmosphere[None, :]
    )
    temp_noise = np.array([p.temp_noise_k for p in pairs])
    temp_bias = np.array([p.temp_bias_k for p in pairs])
    return pressure_cov, np.diag(temp_noise**2) + _shared([p.temperature_device for p in pairs], temp_bias)


def cross_covariances(
    pairs: Sequence[Pair], others: Sequence[Pair], other_pa: Floats
) -> tuple[Floats, Floats]:
    """
    What the errors of other, future pairs have in common with those of the pairs.

    Parameters
    ----------
    pairs : sequence of Pair
        k pairs.
    others : sequence of Pair
        n pairs, none of them among the first.
    other_pa : ndarray[n]
        Their pressures, in place of those they carry [Pa].

    Returns
    -------
    tuple of ndarray[n, k]
        Covariances of ln P from the pressure side [-], and of the temperatures [K2].
    """
    here, there = np.array([p.pressure_pa for p in pairs]), other_pa
    gauge = np.array([[o.pressure_device == p.pressure_device for p in pairs] for o in others], dtype=float)
    thermometer = np.array(
        [[o.temperature_device == p.temperature_device for p in pairs] for o in others], dtype=float
    )

    def shared(name: str, *, relative: bool) -> Floats:
        first, second = (
            np.array([getattr(p, name) for p in pairs]),
            np.array([getattr(o, name) for o in others]),
        )
        if relative:
            first, second = first / here, second / there
        return np.asarray(second[:, None] * first)

    zero = shared("pressure_bias_pa", relative=True)
    gain = shared("gain_bias", relative=False)
    pressure = gauge * (zero + gain) + shared("atmosphere_bias_pa", relative=True)
    return pressure, thermometer * shared("temp_bias_k", relative=False)


def variances(pairs: Sequence[Pair], pressure_pa: Floats, slopes_per_k: Floats) -> Floats:
    """Variance [n] of each residual in ln P [-], at pressures [Pa] and slopes [1/K]; the curve's own left out."""
    pressure = np.array(
        [p.pressure_noise_pa**2 + p.pressure_bias_pa**2 + p.atmosphere_bias_pa**2 for p in pairs]
    )
    temp = np.array([p.temp_noise_k**2 + p.temp_bias_k**2 for p in pairs])
    gain = np.array([p.gain_bias**2 for p in pairs])
    return np.asarray(pressure / pressure_pa**2 + gain + slopes_per_k**2 * temp + _NOISE_FLOOR**2)


def _shared(names: Sequence[str | None], size: Floats) -> Floats:
    same = np.array([[a == b for b in names] for a in names], dtype=float)
    return same * size[:, None] * size[None, :]


def build(pairs: Sequence[Pair]) -> Evidence:
    """
    Residual-ready evidence from pairs that passed `check`.

    Parameters
    ----------
    pairs : sequence of Pair
        Condensed, in a fixed order.

    Returns
    -------
    Evidence
        In the same order.
    """
    temp = np.array([p.temp_k for p in pairs])
    log_pressure = np.log(np.array([p.pressure_pa for p in pairs]))
    built = _whiten(temp, log_pressure, *covariances(pairs))
    against = [p.atmosphere_pa for p in pairs if p.atmosphere_pa is not None]
    if len(against) < len(pairs):
        return built
    in_air = covariances([replace(p, atmosphere_bias_pa=0.0) for p in pairs])[0]
    return replace(built, log_over_air=log_pressure - np.log(against), gauge_cov=in_air)


def _whiten(temp: Floats, log_pressure: Floats, pressure_cov: Floats, temp_cov: Floats) -> Evidence:
    slope = reference_slope(temp)
    from_temperature = slope[:, None] * temp_cov * slope[None, :]
    if temp.size == 1:
        # The same without calls to the linear algebra, which cost more than the numbers.
        lower = np.sqrt(pressure_cov)
        whitening, eigenvalues = 1.0 / lower, (from_temperature / pressure_cov)[0]
    else:
        lower = np.linalg.cholesky(pressure_cov)
        inverse = np.linalg.inv(lower)
        scaled = inverse @ from_temperature @ inverse.T
        eigenvalues, vectors = np.linalg.eigh((scaled + scaled.T) / 2)
        whitening = inverse.T @ vectors
    return Evidence(
        temp_k=temp,
        log_pressure=log_pressure,
        pressure_cov=pressure_cov,
        temp_cov=temp_cov,
        whitening=whitening,
        eigenvalues=np.maximum(eigenvalues, 0.0),
        level=whitening.sum(axis=0),
        log_det_pressure=2.0 * float(np.log(np.diag(lower)).sum()),
    )
