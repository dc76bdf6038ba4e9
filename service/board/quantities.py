"""Numbers as a person reads them: in their units, with the digits that the uncertainty bears."""

import math
from dataclasses import dataclass

from service.units import c_from_k, f_from_k, kpa_from_pa, lb_from_kg, psi_from_pa

SPACE = "\u202f"  # narrow no-break space between a number and its unit
MINUS = "\u2212"
UNKNOWN = "not known"

# Standard uncertainties assumed when a reading carries none: a common clamp and a common wireless gauge.
READING_TEMP_K = 0.3
READING_PRESSURE_PA = 3000.0
FOOT_M = 0.3048  # exact
SCALE_KG = 0.1
SMALLEST = 0.01  # a size below it is written as less than it


def decimals_borne(uncertainty: float) -> int:
    """Give the number of decimals whose last place has the magnitude of the uncertainty.

    Negative means tens, hundreds and so on. No more digits than the uncertainty bears: GUM (JCGM 100:2008)
    7.2.6, from memory.
    """
    if not (uncertainty > 0 and math.isfinite(uncertainty)):
        raise ValueError(f"uncertainty: {uncertainty!r}, expected a finite number above 0")
    return -math.floor(math.log10(uncertainty) + 0.0223)  # 0.95 counts as 1


def number(value: float, uncertainty: float) -> str:
    """Write a value with the digits that its standard uncertainty bears."""
    return fixed(value, decimals_borne(uncertainty))


def fixed(value: float, decimals: int) -> str:
    """Write a value with so many decimals, a true minus sign and never a negative zero."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def percent(fraction: float) -> str:
    """Write a probability or share; never 0 % or 100 %, which no evidence bears."""
    if fraction < 0.005:
        return f"<1{SPACE}%"
    if fraction > 0.995:
        return f">99{SPACE}%"
    return f"{fraction * 100:.0f}{SPACE}%"


def _size(value: float) -> str:
    return number(value, value) if value >= SMALLEST else f"<{SMALLEST}"


@dataclass(frozen=True, slots=True)
class Quantities:
    """Writes SI quantities in a person's units."""

    inch_pound: bool = False

    @property
    def temperature_unit(self) -> str:
        """Unit of a temperature."""
        return "°F" if self.inch_pound else "°C"

    @property
    def pressure_unit(self) -> str:
        """Unit of a pressure, gauge or absolute."""
        return "psi" if self.inch_pound else "kPa"

    @property
    def mass_unit(self) -> str:
        """Unit of a mass."""
        return "lb" if self.inch_pound else "kg"

    @property
    def length_unit(self) -> str:
        """Unit of an elevation."""
        return "ft" if self.inch_pound else "m"

    def length(self, length_m: float | None) -> str:
        """Write an elevation [m]."""
        if length_m is None:
            return UNKNOWN
        value = length_m / FOOT_M if self.inch_pound else length_m
        return f"{fixed(value, 0)}{SPACE}{self.length_unit}"

    def temperature_value(self, temp_k: float) -> float:
        """Give a temperature [K] as a plain number in the person's unit."""
        return float(f_from_k(temp_k) if self.inch_pound else c_from_k(temp_k))

    def pressure_value(self, pressure_pa: float) -> float:
        """Give a pressure [Pa] as a plain number in the person's unit."""
        return float(psi_from_pa(pressure_pa)) if self.inch_pound else kpa_from_pa(pressure_pa)

    def mass_value(self, mass_kg: float) -> float:
        """Give a mass [kg] as a plain number in the person's unit."""
        return float(lb_from_kg(mass_kg)) if self.inch_pound else mass_kg

    def temperature(self, temp_k: float | None, uncertainty_k: float | None = None) -> str:
        """Write a temperature [K]."""
        if temp_k is None:
            return UNKNOWN
        scale = 1.8 if self.inch_pound else 1.0
        value = number(self.temperature_value(temp_k), (uncertainty_k or READING_TEMP_K) * scale)
        return f"{value}{SPACE}{self.temperature_unit}"

    def kelvins(self, difference_k: float | None, uncertainty_k: float | None = None) -> str:
        """Write a temperature difference [K], signed."""
        if difference_k is None:
            return UNKNOWN
        scale = 1.8 if self.inch_pound else 1.0
        value = number(difference_k * scale, (uncertainty_k or 0.1) * scale)
        sign = "+" if difference_k > 0 and float(value) != 0 else ""
        return f"{sign}{value}{SPACE}{'°F' if self.inch_pound else 'K'}"

    def span(self, uncertainty_k: float | None) -> str:
        """Write the size of a temperature uncertainty [K], to one significant digit."""
        if uncertainty_k is None:
            return UNKNOWN
        value = uncertainty_k * (1.8 if self.inch_pound else 1.0)
        return f"{_size(value)}{SPACE}{'°F' if self.inch_pound else 'K'}"

    def pressure_span(self, uncertainty_pa: float | None) -> str:
        """Write the size of a pressure uncertainty [Pa], to one significant digit."""
        if uncertainty_pa is None:
            return UNKNOWN
        return f"{_size(self.pressure_value(uncertainty_pa))}{SPACE}{self.pressure_unit}"

    def pressure(self, pressure_pa: float | None, uncertainty_pa: float | None = None) -> str:
        """Write a pressure [Pa] without saying gauge or absolute."""
        if pressure_pa is None:
            return UNKNOWN
        uncertainty = self.pressure_value(uncertainty_pa or READING_PRESSURE_PA)
        return f"{number(self.pressure_value(pressure_pa), uncertainty)}{SPACE}{self.pressure_unit}"

    def gauge(self, pressure_pa: float | None, uncertainty_pa: float | None = None) -> str:
        """Write a gauge pressure [Pa]."""
        text = self.pressure(pressure_pa, uncertainty_pa)
        return text if pressure_pa is None else f"{text} gauge"

    def absolute(self, pressure_pa: float | None, uncertainty_pa: float | None = None) -> str:
        """Write an absolute pressure [Pa]."""
        text = self.pressure(pressure_pa, uncertainty_pa)
        return text if pressure_pa is None else f"{text} absolute"

    def mass(self, mass_kg: float | None, uncertainty_kg: float | None = None) -> str:
        """Write a mass [kg]."""
        if mass_kg is None:
            return UNKNOWN
        value = number(self.mass_value(mass_kg), self.mass_value(uncertainty_kg or SCALE_KG))
        return f"{value}{SPACE}{self.mass_unit}"

    def mass_below(self, mass_kg: float) -> str:
        """Write a mass [kg] that must not be exceeded: with a scale's digits, never rounded up."""
        scale = 10.0 ** decimals_borne(self.mass_value(SCALE_KG))
        value = math.floor(self.mass_value(mass_kg) * scale + 1e-9) / scale
        return f"{fixed(value, decimals_borne(self.mass_value(SCALE_KG)))}{SPACE}{self.mass_unit}"
