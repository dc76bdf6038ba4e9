"""The rule of each alarm: what is seen against where the alarm is raised and cleared."""

from collections.abc import Callable
from typing import Final

from service.cylinders.alarm_signals import Kind, Observation, Severity, Signal, Thresholds
from service.units import c_from_k, f_from_k, lb_from_kg, psi_from_pa


def _hot(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.temp_k is None:
        return None
    severity: Severity = "critical" if seen.temp_k >= limits.hot_critical_k else "warning"
    text = f"{_temperature(seen.temp_k)} at the wall; never above 52 °C (125 °F). Shade it, cool it with air."
    hot, cool = seen.temp_k >= limits.hot_k, seen.temp_k < limits.hot_clear_k
    return Signal(hot, cool, severity, text, {"temp_k": seen.temp_k})


def _pressure(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.gauge_pa is None or not seen.service_pressure_pa:
        return None
    share = seen.gauge_pa / seen.service_pressure_pa
    both = f"{psi_from_pa(seen.gauge_pa):.0f} psig ({seen.gauge_pa / 1e3:.0f} kPa)"
    text = f"{both} is {100 * share:.0f} % of the marked service pressure"
    figures = {"gauge_pa": seen.gauge_pa, "service_pressure_pa": seen.service_pressure_pa}
    severity: Severity = "critical" if share >= 1.25 else "warning"
    high, low = share >= limits.pressure_of_service, share < limits.pressure_clear_of_service
    return Signal(high, low, severity, text, figures)


def _liquid_full(seen: Observation, _: Thresholds) -> Signal | None:
    if seen.liquid_full is None:
        return None
    text = "it looks liquid-full: pressure rises by bars per kelvin. Cool it, keep away, take liquid out."
    return Signal(seen.liquid_full, not seen.liquid_full, "critical", text)


def _liquid_full_soon(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.liquid_full_temp_k is None or seen.temp_k is None:
        return None
    left = seen.liquid_full_temp_k - seen.temp_k
    at = _temperature(seen.liquid_full_temp_k)
    text = f"{left:.0f} K ({1.8 * left:.0f} °F) of warming fill it with liquid, at {at}"
    figures = {"temp_k": seen.temp_k, "liquid_full_temp_k": seen.liquid_full_temp_k}
    severity: Severity = "critical" if left <= 0.5 * limits.liquid_full_left_k else "warning"
    soon, far = left <= limits.liquid_full_left_k, left > limits.liquid_full_clear_k
    return Signal(soon, far, severity, text, figures)


def _overfull(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.net_mass_kg is None or not seen.limit_kg:
        return None
    share = seen.net_mass_kg / seen.limit_kg
    text = f"{_mass(seen.net_mass_kg)} net; allowed are {_mass(seen.limit_kg)}"
    figures = {"net_mass_kg": seen.net_mass_kg, "limit_kg": seen.limit_kg}
    over, under = share > limits.overfull_of_limit, share <= limits.overfull_clear_of_limit
    return Signal(over, under, "critical", text, figures)


def _mixed(seen: Observation, _: Thresholds) -> Signal | None:
    if seen.contamination is None:
        return None
    cleared = seen.contamination in {"none-detected", "air", "shifted"}
    return Signal(
        seen.contamination == "mixed", cleared, "warning", "the contents are a mixture: nothing more in"
    )


def _overdue(seen: Observation, _: Thresholds) -> Signal | None:
    if seen.requalification is None:
        return None
    cleared = seen.requalification in {"current", "due-soon"}
    text = "past its requalification date: empty and ship, do not fill"
    return Signal(seen.requalification == "overdue", cleared, "notice", text)


def _stale(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.silent_s is None:
        return None
    text = f"no reading for {seen.silent_s / 60.0:.0f} min"
    silent, heard = seen.silent_s > limits.stale_s, seen.silent_s < limits.stale_clear_s
    return Signal(silent, heard, "notice", text, {"silent_s": seen.silent_s})


def _battery(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.battery_percent is None:
        return None
    low = seen.battery_percent <= limits.battery_percent
    full = seen.battery_percent >= limits.battery_clear_percent
    figures = {"battery_percent": seen.battery_percent}
    return Signal(low, full, "notice", f"battery at {seen.battery_percent:.0f} %", figures)


def _leak(seen: Observation, limits: Thresholds) -> Signal | None:
    if seen.unexplained_loss_kg is not None and seen.unexplained_loss_kg >= limits.leak_mass_kg:
        text = f"{_mass(seen.unexplained_loss_kg)} are gone without a transfer: leak?"
        return Signal(True, False, "critical", text, {"lost_kg": seen.unexplained_loss_kg})
    by_mass_clear = seen.unexplained_loss_kg is None or seen.unexplained_loss_kg < limits.leak_mass_clear_kg
    if seen.pressure_slope_per_h is None or seen.temp_slope_k_per_h is None or seen.vapour_only is None:
        known = seen.unexplained_loss_kg is not None
        return Signal(False, by_mass_clear, "critical", "no loss seen") if known else None
    steady = abs(seen.temp_slope_k_per_h) <= limits.leak_steady_k_per_h
    falling = steady and seen.vapour_only and seen.pressure_slope_per_h <= limits.leak_per_h
    calm = seen.pressure_slope_per_h >= limits.leak_clear_per_h
    fall = -100.0 * seen.pressure_slope_per_h
    text = f"pressure falls by {fall:.1f} % an hour at steady temperature, liquid gone: leak?"
    return Signal(falling, steady and calm and by_mass_clear, "critical", text)


def _disagree(seen: Observation, _: Thresholds) -> Signal | None:
    if seen.devices_disagree is None:
        return None
    return Signal(seen.devices_disagree, not seen.devices_disagree, "warning", "two devices on it disagree")


def _mass(mass_kg: float) -> str:
    return f"{lb_from_kg(mass_kg):.1f} lb ({mass_kg:.2f} kg)"


def _temperature(temp_k: float) -> str:
    return f"{c_from_k(temp_k):.0f} °C ({f_from_k(temp_k):.0f} °F)"


RULES: Final[dict[Kind, Callable[[Observation, Thresholds], Signal | None]]] = {
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
