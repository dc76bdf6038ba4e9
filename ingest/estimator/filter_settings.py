"""What the filter bank takes for likely of a clamp and of a cylinder before either has been seen."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FilterSettings:
    """Priors of the bank; each a judgement, tried in simulation (`ingest/how-well.md`).

    Parameters
    ----------
    lags_s : tuple of float
        First lags that are tried, [s].
    lag_width : float
        Standard deviation of a filter's own lag around its centre, as a logarithm, [-].
    body_uncertainty : float
        Relative uncertainty of the slow lag, [-].
    body_ratio : float
        Slow lag over first lag, [-].
    body_share : float
        Most likely residue of the body over the first one, in simulation, [-].
    no_lag_weight : float
        Prior weight of a clamp that has no lag left, [-].
    rest_weight : float
        Prior weight of a cylinder at rest, [-].
    rest_drift, moving_drift : float
        Standard deviations of the drift of a cylinder at rest and of one that moves, [K/s].
    drift_decay_s : float
        Time in which a drift dies away, [s].
    rest_noise, drift_noise : float
        Spectral density of the drift's random changes at rest and moving, [K2/s3].
    first_k, body_k, touched_k, touched_body_k, settled_k : float
        Standard deviations of both residues of a fresh clamp, of one that was touched, and of one without lag, [K].
    offset_walk : float
        Random walk of the offset, [K/sqrt(s)].
    slope_error : float
        Relative error of the pressure thermometer's slope, [-].
    """

    lags_s: tuple[float, ...] = (20.0, 38.0, 72.0, 137.0, 260.0)
    lag_width: float = 0.32
    body_uncertainty: float = 0.35
    body_ratio: float = 5.0
    body_share: float = 0.05
    no_lag_weight: float = 0.3
    rest_weight: float = 0.5
    rest_drift: float = 5e-5
    moving_drift: float = 2.5e-3
    drift_decay_s: float = 4500.0
    rest_noise: float = 4e-12
    drift_noise: float = 2e-11
    first_k: float = 8.0
    body_k: float = 0.45
    touched_k: float = 2.5
    touched_body_k: float = 0.2
    settled_k: float = 0.03
    offset_walk: float = 0.008 / math.sqrt(60.0)
    slope_error: float = 0.06
