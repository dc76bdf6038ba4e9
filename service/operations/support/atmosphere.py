"""The atmosphere a gauge reading is against: barometer, else elevation, else an honest guess."""

from dataclasses import dataclass
from typing import Final

from service.units import standard_atmosphere_pa

BAROMETER_PA: Final = 100.0
"""Standard uncertainty of a barometer in a gateway or phone, 1 hPa (common practice, no source) [Pa]."""
WEATHER_PA: Final = 1000.0
"""Standard deviation of the weather about the standard atmosphere, 10 hPa (from memory) [Pa]."""
UNKNOWN_PA: Final = 99_000.0
"""Where nothing is known: about 200 m, near the median height that people live at (from memory) [Pa]."""
UNKNOWN_UNCERTAINTY_PA: Final = 5000.0
"""Wide enough that sea level and 1000 m lie within two standard deviations (a judgement) [Pa]."""


@dataclass(frozen=True, slots=True)
class Atmosphere:
    """An atmospheric pressure [Pa], its standard uncertainty [Pa], and where it is from."""

    pressure_pa: float
    uncertainty_pa: float
    source: str


@dataclass(frozen=True, slots=True)
class PressureReading:
    """
    A pressure as somebody read it: absolute, or gauge with what is known of the atmosphere.

    Parameters
    ----------
    absolute_pa, gauge_pa
        Exactly one of them [Pa].
    ambient_pa
        A barometer's reading beside the gauge [Pa]; beats the elevation.
    elevation_m
        Where the gauge was [m].
    """

    absolute_pa: float | None = None
    gauge_pa: float | None = None
    ambient_pa: float | None = None
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True)
class AbsolutePressure:
    """An absolute pressure [Pa] and the atmosphere that it was converted with, none when read absolute."""

    pressure_pa: float
    atmosphere: Atmosphere | None


def atmosphere_at(elevation_m: float | None, ambient_pa: float | None = None) -> Atmosphere:
    """The atmosphere at a place, by the best that is known of it."""
    if ambient_pa is not None:
        return Atmosphere(ambient_pa, BAROMETER_PA, "barometer")
    if elevation_m is not None:
        return Atmosphere(standard_atmosphere_pa(elevation_m), WEATHER_PA, "elevation")
    return Atmosphere(UNKNOWN_PA, UNKNOWN_UNCERTAINTY_PA, "unknown")


def absolute(reading: PressureReading, place_elevation_m: float | None) -> AbsolutePressure:
    """
    What was read, as an absolute pressure.

    Parameters
    ----------
    reading
        As read; its own elevation beats the place's.
    place_elevation_m
        Elevation of the place, where the reading states none [m].

    Returns
    -------
    AbsolutePressure
        With the atmosphere where one was added.

    Raises
    ------
    ValueError
        When it is neither absolute nor gauge.
    """
    if reading.absolute_pa is not None:
        return AbsolutePressure(reading.absolute_pa, None)
    if reading.gauge_pa is None:
        raise ValueError("a pressure reading is absolute or gauge")
    elevation_m = place_elevation_m if reading.elevation_m is None else reading.elevation_m
    atmosphere = atmosphere_at(elevation_m, reading.ambient_pa)
    return AbsolutePressure(reading.gauge_pa + atmosphere.pressure_pa, atmosphere)
