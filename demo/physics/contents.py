"""What a cylinder holds, seen from its pressure: functions of the temperature of the liquid's surface."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

LogPressure = Callable[[float], float]
"""Natural logarithm of the absolute pressure [Pa] as a function of temperature [K]."""


@dataclass(frozen=True, slots=True)
class Saturated:
    """Liquid with its vapor above it.

    Parameters
    ----------
    log_pressure : LogPressure
        Saturation curve, ln of pressure in [Pa] against temperature [K].
    liquid_heat_capacity : float
        Specific heat capacity of the liquid, [J/(kg K)].
    latent_heat : float
        Latent heat of evaporation, [J/kg].
    liquid_density : float
        Density of the liquid, [kg/m3].
    """

    log_pressure: LogPressure
    liquid_heat_capacity: float = 1400.0
    latent_heat: float = 185e3
    liquid_density: float = 1150.0
    has_liquid: bool = True

    def pressure_pa(self, temp_k: float) -> float:
        """Absolute pressure [Pa] over a surface at `temp_k` [K]."""
        return math.exp(self.log_pressure(temp_k))


@dataclass(frozen=True, slots=True)
class VapourOnly:
    """No liquid left: a fixed charge of vapor that follows the gas law.

    Parameters
    ----------
    pressure_at_25c_pa : float
        Absolute pressure at 298.15 K, [Pa].
    latent_heat : float
        Unused by the gas, kept so that both kinds read alike, [J/kg].
    """

    pressure_at_25c_pa: float
    liquid_heat_capacity: float = 900.0
    latent_heat: float = 185e3
    liquid_density: float = 1150.0
    has_liquid: bool = False

    def pressure_pa(self, temp_k: float) -> float:
        """Absolute pressure [Pa] of the gas at `temp_k` [K]."""
        return self.pressure_at_25c_pa * temp_k / 298.15


Contents = Saturated | VapourOnly


def with_air(log_pressure: LogPressure, air_pa_at_25c: float) -> LogPressure:
    """Return the curve of the same contents with air above it.

    Parameters
    ----------
    log_pressure : LogPressure
        Saturation curve without air.
    air_pa_at_25c : float
        Partial pressure of the air at 298.15 K, [Pa]; it rises in proportion to temperature.

    Returns
    -------
    LogPressure
        ln of the sum of both pressures.
    """

    def total(temp_k: float) -> float:
        return math.log(math.exp(log_pressure(temp_k)) + air_pa_at_25c * temp_k / 298.15)

    return total
