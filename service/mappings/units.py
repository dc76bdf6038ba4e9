"""The units that a mapping may name, in UCUM codes, and what each is in SI; the worker has the same table."""

from collections.abc import Mapping

_POUND_KG = 0.45359237
_STANDARD_GRAVITY = 9.80665
_INCH_M = 0.0254
_MERCURY_PA_M = 133_322.0
_ZERO_CELSIUS_K = 273.15

Unit = tuple[float, float]
"""Scale and offset to SI."""
PRESSURES: Mapping[str, Unit] = {
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
TEMPERATURES: Mapping[str, Unit] = {
    "K": (1.0, 0.0),
    "Cel": (1.0, _ZERO_CELSIUS_K),
    "[degF]": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
}
MASSES: Mapping[str, Unit] = {
    "kg": (1.0, 0.0),
    "g": (1e-3, 0.0),
    "t": (1e3, 0.0),
    "[lb_av]": (_POUND_KG, 0.0),
    "[oz_av]": (_POUND_KG / 16.0, 0.0),
}
SHARES: Mapping[str, Unit] = {"%": (1.0, 0.0), "1": (100.0, 0.0)}
UNITS: Mapping[str, Mapping[str, Unit]] = {
    "gauge-pressure": PRESSURES,
    "absolute-pressure": PRESSURES,
    "wall-temperature": TEMPERATURES,
    "ambient-temperature": TEMPERATURES,
    "ambient-pressure": PRESSURES,
    "mass": MASSES,
    "battery": SHARES,
}
"""Units of each quantity, to [Pa], [K], [kg] and [%]. Definitions: UCUM 2.1, tables 2 to 11 (from memory; the worker's
equal table is checked against another library's constants)."""
WORDS: Mapping[str, str] = {
    "mbar": "mbar",
    "[psi]": "psi",
    "mm[Hg]": "mmHg",
    "[in_i'Hg]": "inHg",
    "Cel": "°C",
    "[degF]": "°F",
    "[lb_av]": "lb",
    "[oz_av]": "oz",
    "1": "a share of one",
}
"""What a person calls a unit whose code is not what instruments show."""


def in_si(quantity: str, unit: str, value: float) -> float:
    """A value in SI [Pa], [K], [kg] or [%]; raises KeyError for a unit that the quantity is not measured in."""
    scale, offset = UNITS[quantity][unit]
    return value * scale + offset


def word(unit: str) -> str:
    """What a person calls a unit."""
    return WORDS.get(unit, unit)
