"""A pair as the verdict takes it once its set is known: moved by the believed errors, as uncertain as they are."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from service.verdict.evidence import REFERENCE_SLOPE_PER_K, reference_slope
from service.verdict.instruments.belief import ErrorBelief
from service.verdict.model import Pair


def corrected(pair: Pair, belief: ErrorBelief, newest: ErrorBelief | None = None) -> Pair:
    """
    The pair less the believed errors of its set.

    Pressure and temperature hold the errors together: their combination is known better than either. The verdict
    takes them as independent, so all three are scaled by what makes the uncertainty of the combination true.

    Parameters
    ----------
    pair : Pair
        As read.
    belief : ErrorBelief
        Of its thermometer with its gauge, learned without this cylinder.
    newest : ErrorBelief or None
        The same with what was learned since, this cylinder included. It moves nothing; as far as it disagrees or is
        less sure, the pair becomes less certain, so that a set that was dropped condemns nothing.

    Returns
    -------
    Pair
        With bias uncertainties as believed.
    """
    mean, cov = belief.moments
    true_pa = max((pair.pressure_pa - mean[1]) / (1 + mean[2]), 100.0)
    temp_k = pair.temp_k - float(mean[0])
    slope = float(reference_slope(np.array([temp_k]))[0])
    row = np.array([-slope, 1 / true_pa, 1.0])
    apart = float(row**2 @ np.diag(cov))
    known = float(row @ cov @ row)
    if newest is not None:
        later, wider = newest.moments
        known = max(known, float(row @ wider @ row)) + float(row @ (later - mean)) ** 2
    scale = math.sqrt(known / apart)
    sizes = scale * np.sqrt(np.diag(cov))
    return replace(
        pair,
        temp_k=temp_k,
        pressure_pa=float(true_pa),
        temp_bias_k=float(sizes[0]),
        pressure_bias_pa=float(sizes[1]),
        gain_bias=float(sizes[2]),
    )


@dataclass(frozen=True, slots=True)
class Share:
    """
    How much of a pair's uncertainty is the instruments'.

    Parameters
    ----------
    thermometer, gauge : float
        Of the variance of ln P, the curve's left out [-].
    total_k : float
        Standard uncertainty of the whole, as a temperature [K].
    """

    thermometer: float
    gauge: float
    total_k: float


def share(pair: Pair) -> Share:
    """How much of the uncertainty of a pair is its instruments', at a typical slope."""
    slope = REFERENCE_SLOPE_PER_K
    thermometer = (slope * pair.temp_bias_k) ** 2
    gauge = (pair.pressure_bias_pa / pair.pressure_pa) ** 2 + pair.gain_bias**2
    others = (slope * pair.temp_noise_k) ** 2
    others += (pair.pressure_noise_pa**2 + pair.atmosphere_bias_pa**2) / pair.pressure_pa**2
    total = max(thermometer + gauge + others, 1e-12)
    return Share(thermometer / total, gauge / total, math.sqrt(total) / slope)
