"""A small part of UCUM, the Unified Code for Units of Measure: what gauges, clamps and scales are read in."""

from __future__ import annotations

from ingest.wire.reading import ZERO_CELSIUS_K

_POUND_KG = 0.45359237
_STANDARD_GRAVITY = 9.80665
_INCH_M = 0.0254
_MERCURY_PA_M = 133_322.0

PRESSURES: dict[str, tuple[float, float]] = {
    "Pa": (1.0, 0.0),
    "hPa": (1e2, 0.0),
    "kPa": (1e3, 0.0),
    "MPa": (1e6, 0.0),
    "mbar": (1e2, 0.0),
    "bar": (1e5, 0.0),
    "atm": (101_325.0, 0.0),
    "[psi]": (_POUND_KG * _STANDARD_GRAVITY / _INCH_M**2, 0.0),
    "mm[Hg]": (_MERCURY_PA_M * 1e-3, 0.0),
    "[in_i'Hg]": (_MERCURY_PA_M * _INCH_M, 0.0),
}
TEMPERATURES: dict[str, tuple[float, float]] = {
    "K": (1.0, 0.0),
    "Cel": (1.0, ZERO_CELSIUS_K),
    "[degF]": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
}
MASSES: dict[str, tuple[float, float]] = {
    "kg": (1.0, 0.0),
    "g": (1e-3, 0.0),
    "t": (1e3, 0.0),
    "[lb_av]": (_POUND_KG, 0.0),
    "[oz_av]": (_POUND_KG / 16.0, 0.0),
}
SHARES: dict[str, tuple[float, float]] = {"%": (1.0, 0.0), "1": (100.0, 0.0)}
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "gauge-pressure": PRESSURES,
    "absolute-pressure": PRESSURES,
    "wall-temperature": TEMPERATURES,
    "ambient-temperature": TEMPERATURES,
    "ambient-pressure": PRESSURES,
    "mass": MASSES,
    "battery": SHARES,
}
"""Scale and offset of each unit to what a reading has: [Pa], [K], [kg], [%]. Definitions: UCUM 2.1, tables 2 to 11
(from memory; checked against another library's constants in the tests)."""


def in_si(quantity: str, unit: str, value: float) -> float:
    """Return a value in what a reading of the quantity has; raises KeyError for a unit that it is not measured in."""
    scale, offset = UNITS[quantity][unit]
    return value * scale + offset
