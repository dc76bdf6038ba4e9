"""PURE: unit conversions and the standard atmosphere; the edges convert, the inside is SI."""

from typing import Final

STANDARD_ATMOSPHERE_PA: Final = 101325.0
"""ICAO Doc 7488, sea level [Pa]."""
POUND_KG: Final = 0.45359237
"""International pound, exact by definition (1959) [kg]."""
PSI_PA: Final = POUND_KG * 9.80665 / 0.0254**2
"""Pound-force per square inch, from the exact pound, inch and standard gravity [Pa]."""
INCH_M: Final = 0.0254
"""Inch, exact by definition (1959) [m]."""
MICRON_PA: Final = 0.1333223684
"""A micron of mercury, by the conventional millimeter of mercury [Pa]."""
ICE_POINT_K: Final = 273.15
"""0 °C, exact by definition [K]."""
READING_UNITS: Final = {
    "gauge-pressure": "Pa",
    "absolute-pressure": "Pa",
    "wall-temperature": "K",
    "ambient-temperature": "K",
    "ambient-pressure": "Pa",
    "mass": "kg",
    "battery": "%EL",
}
"""What a device may send, and the one unit in which the worker passes it on."""

_LAPSE_K_M: Final = 0.0065
_SEA_LEVEL_K: Final = 288.15
_ATMOSPHERE_EXPONENT: Final = 9.80665 / (287.05287 * _LAPSE_K_M)
_TROPOSPHERE_M: Final = (-5000.0, 11000.0)


def psi_from_pa(pressure_pa: float) -> float:
    """Pounds per square inch of a pressure [Pa]."""
    return pressure_pa / PSI_PA


def pa_from_psi(pressure_psi: float) -> float:
    """Pascals of a pressure [psi]."""
    return pressure_psi * PSI_PA


def pa_from_micron(vacuum_micron: float) -> float:
    """Pascals of a vacuum [micron of mercury]."""
    return vacuum_micron * MICRON_PA


def kpa_from_pa(pressure_pa: float) -> float:
    """Kilopascals of a pressure [Pa]."""
    return pressure_pa / 1000.0


def pa_from_kpa(pressure_kpa: float) -> float:
    """Pascals of a pressure [kPa]."""
    return pressure_kpa * 1000.0


def c_from_k(temp_k: float) -> float:
    """Degrees Celsius of a temperature [K]."""
    return temp_k - ICE_POINT_K


def k_from_c(temp_c: float) -> float:
    """Kelvins of a temperature [°C]."""
    return temp_c + ICE_POINT_K


def f_from_k(temp_k: float) -> float:
    """Degrees Fahrenheit of a temperature [K]."""
    return (temp_k - ICE_POINT_K) * 1.8 + 32.0


def k_from_f(temp_f: float) -> float:
    """Kelvins of a temperature [°F]."""
    return (temp_f - 32.0) / 1.8 + ICE_POINT_K


def lb_from_kg(mass_kg: float) -> float:
    """Pounds of a mass [kg]."""
    return mass_kg / POUND_KG


def kg_from_lb(mass_lb: float) -> float:
    """Kilograms of a mass [lb]."""
    return mass_lb * POUND_KG


def standard_atmosphere_pa(elevation_m: float) -> float:
    """
    Pressure of the standard atmosphere at an elevation.

    Parameters
    ----------
    elevation_m
        Height above mean sea level, taken as geopotential height [m]; the difference is under 0.01 % of the
        pressure wherever people work.

    Returns
    -------
    float
        Absolute pressure [Pa].

    Raises
    ------
    ValueError
        Outside the tabulated troposphere, -5000 to 11000 m.

    Notes
    -----
    ICAO Doc 7488/3, troposphere: ``101325 (1 - 0.0065 h / 288.15) ** 5.25588``.
    """
    low, high = _TROPOSPHERE_M
    if not low <= elevation_m <= high:
        raise ValueError(f"elevation_m must lie between {low:.0f} and {high:.0f} m, got {elevation_m!r}")
    return STANDARD_ATMOSPHERE_PA * float(
        (1.0 - _LAPSE_K_M * elevation_m / _SEA_LEVEL_K) ** _ATMOSPHERE_EXPONENT
    )
