"""What a supervisor must see: each alarm is raised at one value and cleared at another.

So it does not chatter; and what is not known raises nothing and clears nothing.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal

from service.units import c_from_k, k_from_c, psi_from_pa

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
class Change:
    """An alarm raised, made more serious (``raised`` again), or cleared now."""

    kind: Kind
    raised: bool
    severity: Severity
    text: str


@dataclass(frozen=True, slots=True)
class _Signal:
    """Verdict of one rule: above the raising value, below the clearing value, or between the two."""

    raise_it: bool
    clear_it: bool
    severity: Severity
    text: str


def changes(
    active: Mapping[str, str], seen: Observation, thresholds: Thresholds | None = None
) -> list[Change]:
    """Alarms to raise, to make more serious and to clear.

    Parameters
    ----------
    active : mapping of str to str
        Kind to severity of the alarms that stand.
    seen : Observation
        What is known now.
    thresholds : Thresholds, optional
        The owner's, else the usual ones.
    """
    limits, found = thresholds or Thresholds(), []
    for kind, rule in _RULES.items():
        signal, standing = rule(seen, limits), active.get(kind)
        if signal is None:
            continue
        worse = signal.severity == "critical" and standing != "critical"
        if signal.raise_it and (standing is None or worse):
            found.append(Change(kind, True, signal.severity, signal.text))
        elif signal.clear_it and not signal.raise_it and standing is not None:
            found.append(Change(kind, False, signal.severity, signal.text))
    return found


def _hot(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.temp_k is None:
        return None
    severity: Severity = "critical" if seen.temp_k >= limits.hot_critical_k else "warning"
    text = (
        f"{c_from_k(seen.temp_k):.1f} °C at the wall; never above 52 °C (125 °F). Shade it, cool it with air."
    )
    return _Signal(seen.temp_k >= limits.hot_k, seen.temp_k < limits.hot_clear_k, severity, text)


def _pressure(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.gauge_pa is None or not seen.service_pressure_pa:
        return None
    share = seen.gauge_pa / seen.service_pressure_pa
    text = f"{psi_from_pa(seen.gauge_pa):.0f} psig is {100 * share:.0f} % of the marked service pressure"
    severity: Severity = "critical" if share >= 1.25 else "warning"
    return _Signal(
        share >= limits.pressure_of_service, share < limits.pressure_clear_of_service, severity, text
    )


def _liquid_full(seen: Observation, _: Thresholds) -> _Signal | None:
    if seen.liquid_full is None:
        return None
    text = "it looks liquid-full: pressure rises by bars per kelvin. Cool it, keep away, take liquid out."
    return _Signal(seen.liquid_full, not seen.liquid_full, "critical", text)


def _liquid_full_soon(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.liquid_full_temp_k is None or seen.temp_k is None:
        return None
    left = seen.liquid_full_temp_k - seen.temp_k
    text = f"{left:.0f} K of warming fill it with liquid (at {c_from_k(seen.liquid_full_temp_k):.0f} °C)"
    severity: Severity = "critical" if left <= 0.5 * limits.liquid_full_left_k else "warning"
    return _Signal(left <= limits.liquid_full_left_k, left > limits.liquid_full_clear_k, severity, text)


def _overfull(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.net_mass_kg is None or not seen.limit_kg:
        return None
    share = seen.net_mass_kg / seen.limit_kg
    text = f"{seen.net_mass_kg:.2f} kg net; allowed are {seen.limit_kg:.2f} kg"
    return _Signal(
        share > limits.overfull_of_limit, share <= limits.overfull_clear_of_limit, "critical", text
    )


def _mixed(seen: Observation, _: Thresholds) -> _Signal | None:
    if seen.contamination is None:
        return None
    cleared = seen.contamination in {"none-detected", "air", "shifted"}
    return _Signal(
        seen.contamination == "mixed", cleared, "warning", "the contents are a mixture: nothing more in"
    )


def _overdue(seen: Observation, _: Thresholds) -> _Signal | None:
    if seen.requalification is None:
        return None
    cleared = seen.requalification in {"current", "due-soon"}
    text = "past its requalification date: empty and ship, do not fill"
    return _Signal(seen.requalification == "overdue", cleared, "notice", text)


def _stale(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.silent_s is None:
        return None
    text = f"no reading for {seen.silent_s / 60.0:.0f} min"
    return _Signal(seen.silent_s > limits.stale_s, seen.silent_s < limits.stale_clear_s, "notice", text)


def _battery(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.battery_percent is None:
        return None
    low = seen.battery_percent <= limits.battery_percent
    full = seen.battery_percent >= limits.battery_clear_percent
    return _Signal(low, full, "notice", f"battery at {seen.battery_percent:.0f} %")


def _leak(seen: Observation, limits: Thresholds) -> _Signal | None:
    if seen.unexplained_loss_kg is not None and seen.unexplained_loss_kg >= limits.leak_mass_kg:
        return _Signal(
            True, False, "critical", f"{seen.unexplained_loss_kg:.2f} kg are gone without a transfer: leak?"
        )
    by_mass_clear = seen.unexplained_loss_kg is None or seen.unexplained_loss_kg < limits.leak_mass_clear_kg
    if seen.pressure_slope_per_h is None or seen.temp_slope_k_per_h is None or seen.vapour_only is None:
        known = seen.unexplained_loss_kg is not None
        return _Signal(False, by_mass_clear, "critical", "no loss seen") if known else None
    steady = abs(seen.temp_slope_k_per_h) <= limits.leak_steady_k_per_h
    falling = steady and seen.vapour_only and seen.pressure_slope_per_h <= limits.leak_per_h
    calm = seen.pressure_slope_per_h >= limits.leak_clear_per_h
    fall = -100.0 * seen.pressure_slope_per_h
    text = f"pressure falls by {fall:.1f} % an hour at steady temperature, liquid gone: leak?"
    return _Signal(falling, steady and calm and by_mass_clear, "critical", text)


def _disagree(seen: Observation, _: Thresholds) -> _Signal | None:
    if seen.devices_disagree is None:
        return None
    return _Signal(seen.devices_disagree, not seen.devices_disagree, "warning", "two devices on it disagree")


_RULES: Final[dict[Kind, Callable[[Observation, Thresholds], _Signal | None]]] = {
    Kind.HOT: _hot,
    Kind.PRESSURE: _pressure,
    Kind.LIQUID_FULL: _liquid_full,
    Kind.LIQUID_FULL_SOON: _liquid_full_soon,
    Kind.OVERFULL: _overfull,
    Kind.MIXED: _mixed,
    Kind.OVERDUE: _overdue,
    Kind.STALE: _stale,
    Kind.BATTERY_LOW: _battery,
    Kind.LEAK: _leak,
    Kind.DISAGREE: _disagree,
}
