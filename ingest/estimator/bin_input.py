"""What the estimator is told: once a hookup how its sensors sit, and once a bin everything that is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class SensorSetup:
    """How the two sensors of a hookup sit; it outlives every restart of the filters.

    Parameters
    ----------
    lag_s : float or None
        First lag of the clamp as remembered from earlier hookups, [s].
    column_pa : float
        Standard uncertainty of the pressure at the surface for what a dip tube under the gauge may hold, [Pa].
    """

    lag_s: float | None = None
    column_pa: float = 0.0


class Measured(NamedTuple):
    """Mean of one sensor's readings in a bin, in the sensor's unit, with the variance of the mean in its square."""

    stamp_s: float
    value: float
    variance: float
    readings: int = 1


class SensorBin(NamedTuple):
    """One sensor in one bin.

    `mean` of its readings or None; whether it `is_stuck`, or `is_suspect` and nothing should be claimed of it; how
    often its level has changed so far; its step, and the `resolution` that rounding leaves after averaging, in the
    sensor's unit.
    """

    mean: Measured | None = None
    is_stuck: bool = False
    is_suspect: bool = False
    changes: int = 0
    step: float = 0.0
    resolution: float = 0.0


SILENT = SensorBin()
"""A sensor that has not been heard."""


@dataclass(frozen=True, slots=True)
class BinInput:
    """Everything that is known of one bin.

    Parameters
    ----------
    end_s : float
        End of the bin, seconds since 1970 UTC, [s].
    clamp, gauge : SensorBin
        Wall temperature [K] and absolute pressure [Pa].
    ahead : Measured or None
        The clamp's first reading after the bin, [K].
    air_k : float or None
        Air temperature, [K].
    mass_kg : float or None
        Gross mass on a scale, [kg].
    battery_low : bool
        Whether the battery of either sensor is low.
    """

    end_s: float
    clamp: SensorBin = SILENT
    gauge: SensorBin = SILENT
    ahead: Measured | None = None
    air_k: float | None = None
    mass_kg: float | None = None
    battery_low: bool = False
