"""What alarms are decided by: the kinds, where they are raised and cleared, what is known of a cylinder now."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from service.units import k_from_c

Severity = Literal["critical", "warning", "notice"]


class Kind(StrEnum):
    """The alarms."""

    HOT = "hot"
    PRESSURE = "pressure-toward-rating"
    LIQUID_FULL = "liquid-full"
    LIQUID_FULL_SOON = "liquid-full-soon"
    OVERFULL = "overfull"
    MIXED = "mixed"
    OVERDUE = "overdue"
    STALE = "stale"
    BATTERY_LOW = "battery-low"
    LEAK = "leak"
    DISAGREE = "devices-disagree"


@dataclass(frozen=True, slots=True)
class Thresholds:
    """Where alarms are raised and cleared; an owner may change them.

    The upper storage temperature is 52 °C (125 °F): read on a university safety page, CGA P-1 from memory.
    The rest is this project's choice, without a source.
    """

    hot_k: float = k_from_c(48.0)
    hot_clear_k: float = k_from_c(45.0)
    hot_critical_k: float = k_from_c(52.0)
    pressure_of_service: float = 1.0
    pressure_clear_of_service: float = 0.93
    liquid_full_left_k: float = 10.0
    liquid_full_clear_k: float = 13.0
    overfull_of_limit: float = 1.003
    overfull_clear_of_limit: float = 1.0
    stale_s: float = 900.0
    stale_clear_s: float = 300.0
    battery_percent: float = 15.0
    battery_clear_percent: float = 25.0
    leak_per_h: float = -0.01
    leak_clear_per_h: float = -0.002
    leak_steady_k_per_h: float = 0.5
    leak_mass_kg: float = 0.2
    leak_mass_clear_kg: float = 0.1


@dataclass(frozen=True, slots=True)
class Observation:
    """What is known of one cylinder now; None is unknown.

    Parameters
    ----------
    temp_k, gauge_pa : float or None
        Live wall temperature [K] and gauge pressure [Pa].
    service_pressure_pa : float or None
        Marked, gauge [Pa].
    liquid_full_temp_k : float or None
        At which the present mass fills the cylinder [K].
    liquid_full : bool or None
        The verdict says that it is liquid-full.
    net_mass_kg, limit_kg : float or None
        Contents and filling limit [kg].
    contamination, requalification : str or None
        Findings.
    silent_s : float or None
        Since the last reading of a hooked-up device [s].
    battery_percent : float or None
        Lowest of its devices [%].
    vapour_only : bool or None
        Liquid was there in this epoch and is gone.
    pressure_slope_per_h : float or None
        Of ln(P/T) [1/h].
    temp_slope_k_per_h : float or None
        [K/h].
    unexplained_loss_kg : float or None
        Mass gone without a transfer [kg].
    devices_disagree : bool or None
        As the worker says.
    """

    temp_k: float | None = None
    gauge_pa: float | None = None
    service_pressure_pa: float | None = None
    liquid_full_temp_k: float | None = None
    liquid_full: bool | None = None
    net_mass_kg: float | None = None
    limit_kg: float | None = None
    contamination: str | None = None
    requalification: str | None = None
    silent_s: float | None = None
    battery_percent: float | None = None
    vapour_only: bool | None = None
    pressure_slope_per_h: float | None = None
    temp_slope_k_per_h: float | None = None
    unexplained_loss_kg: float | None = None
    devices_disagree: bool | None = None


@dataclass(frozen=True, slots=True)
class Signal:
    """Verdict of one rule: above the raising value, below the clearing value, or between the two."""

    raise_it: bool
    clear_it: bool
    severity: Severity
    text: str
    figures: Mapping[str, float] = field(default_factory=dict)
