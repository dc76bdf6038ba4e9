"""The rule of each cause: what is seen, against where the cause is raised and cleared."""

from collections.abc import Callable
from typing import Final

from service.codes import DispositionCode, Severity
from service.cylinders.judgement.advice import LIQUID_FULL_ALARM, contradicted
from service.cylinders.judgement.belief import LIKELY, Source
from service.cylinders.judgement.belief import Kind as Content
from service.cylinders.judgement.causes import Kind, Seen, Signal, Stood, Thresholds
from service.cylinders.recovery import HOW_TO_STOP, stop_at_kg
from service.cylinders.requalification import State
from service.units import c_from_k, f_from_k, kpa_from_pa, lb_from_kg, psi_from_pa

Rule = Callable[[Seen, Stood | None, Thresholds], Signal | None]


def _hot(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    temp_k = seen.live.temp_k if seen.live.attached else 0.0
    if temp_k is None:
        return None
    severity = Severity.CRITICAL if temp_k >= limits.hot_critical_k else Severity.WARNING
    text = f"{_temperature(temp_k)} at the wall; never above 52 °C (125 °F). Shade it, cool it with air."
    return Signal(temp_k >= limits.hot_k, temp_k < limits.hot_clear_k, severity, text, {"temp_k": temp_k})


def _pressure(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    service = seen.state.marks.service_pressure_pa
    gauge = seen.live.gauge_pa if seen.live.attached else 0.0
    if gauge is None or not service:
        return None
    share = gauge / service
    both = f"{psi_from_pa(gauge):.0f} psig ({kpa_from_pa(gauge):.0f} kPa)"
    text = f"{both} is {100 * share:.0f} % of the marked service pressure"
    severity = Severity.CRITICAL if share >= 1.25 else Severity.WARNING
    high, low = share >= limits.pressure_of_service, share < limits.pressure_clear_of_service
    return Signal(high, low, severity, text, {"gauge_pa": gauge, "service_pressure_pa": service})


def _liquid_full(seen: Seen, stood: Stood | None, _: Thresholds) -> Signal:
    judged = seen.state.measured
    found = judged is not None and (
        judged.contents == "liquid-full" or judged.liquid_full >= LIQUID_FULL_ALARM
    )
    room = (
        seen.filling.net_mass_kg is not None and seen.filling.limit_kg is not None and not seen.filling.over
    )
    weighed = stood is not None and stood.after(seen.course.weighed_at) and room
    cleared = not found and (judged is not None or seen.belief.is_empty or weighed)
    text = "It looks liquid-full: pressure rises by bars per kelvin. Cool it, keep away, take liquid out."
    return Signal(found, cleared, Severity.CRITICAL, text)


def _liquid_full_soon(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    if seen.belief.is_empty or not seen.live.attached:
        return Signal(False, True, Severity.WARNING, "")
    full_k, temp_k = seen.filling.liquid_full_temp_k, seen.live.temp_k
    if full_k is None and seen.filling.liquid_fraction is not None:
        return Signal(False, True, Severity.WARNING, "")  # no temperature of the curves fills it
    if full_k is None or temp_k is None:
        return None
    left = full_k - temp_k
    text = f"{left:.0f} K ({1.8 * left:.0f} °F) of warming fill it with liquid, at {_temperature(full_k)}"
    severity = Severity.CRITICAL if left <= 0.5 * limits.liquid_full_left_k else Severity.WARNING
    soon, far = left <= limits.liquid_full_left_k, left > limits.liquid_full_clear_k
    return Signal(soon, far, severity, text, {"temp_k": temp_k, "liquid_full_temp_k": full_k})


def _overfull(seen: Seen, stood: Stood | None, limits: Thresholds) -> Signal | None:
    net, limit = seen.filling.net_mass_kg, seen.filling.limit_kg
    if seen.belief.is_empty:
        return Signal(False, True, Severity.CRITICAL, "")
    if net is None or limit is None:
        return _full_when_warm(seen)
    text = f"{_mass(net)} net; the limit is {_mass(limit)}"
    # A higher limit ends it only where a reading shows what is in it: another word on the label does not.
    then = (
        limit if stood is None or stood.after(seen.course.judged_at) else stood.figures.get("limit_kg", limit)
    )
    return Signal(
        net > limits.overfull_of_limit * limit, net <= min(limit, then), Severity.CRITICAL, text,
        {"net_mass_kg": net, "limit_kg": limit},
    )  # fmt: skip


def _full_when_warm(seen: Seen) -> Signal | None:
    """Where the law of the place gives no limit: whether liquid fills it at a temperature that it can meet."""
    full_k, net = seen.filling.liquid_full_temp_k, seen.filling.net_mass_kg
    if net is None or (full_k is None and seen.filling.liquid_fraction is None):
        return None
    text = f"{_mass(net)} net; liquid fills it at {_temperature(full_k or 0.0)}"
    return Signal(seen.filling.over, not seen.filling.over, Severity.CRITICAL, text, {"net_mass_kg": net})


def _stop_filling(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    """The stop call of a recovery as a cause, so that whoever watches from afar is told too."""
    inflow = seen.live.inflow
    if inflow is None:
        return Signal(False, True, Severity.CRITICAL, "")
    if inflow.gross_kg is None:
        return None
    limit, tare = seen.filling.limit_kg, seen.state.tare_kg
    target = inflow.target_gross_kg
    if limit is not None and tare is not None:
        target = min(target, tare + limit)
    stop_at = stop_at_kg(target, rate_kg_s=inflow.rate_kg_s, method=inflow.method)
    do = HOW_TO_STOP[inflow.method]
    text = f"{_mass(inflow.gross_kg)} gross and filling; stop at {_mass(stop_at)}. {do}"
    figures = {"gross_kg": inflow.gross_kg, "stop_at_kg": stop_at}
    far = inflow.gross_kg < stop_at - limits.stop_clear_kg
    return Signal(inflow.gross_kg >= stop_at, far, Severity.CRITICAL, text, figures)


def _boiling_off(seen: Seen, stood: Stood | None, limits: Thresholds) -> Signal:
    fall = seen.cooling
    over = _leak_over(seen, stood, limits) or (stood is not None and stood.after(seen.course.drawn_at))
    if fall is None:
        return Signal(False, over, Severity.CRITICAL, "")
    rate = f"{fall.wall_k_per_min:.1f} K ({1.8 * fall.wall_k_per_min:.0f} °F) a minute"
    why = (
        "and its pressure falls faster than the wall cools"
        if fall.lead_k is not None
        else "faster than air cools it"
    )
    text = (
        f"It cools by {rate}, {why}: liquid is boiling off. If nobody is drawing from it or filling it, it leaks: "
        "no flames, open doors, keep out of the cloud, close the valve only from upwind."
    )
    return Signal(True, False, Severity.CRITICAL, text, {"wall_k_per_min": fall.wall_k_per_min})


def _leak(seen: Seen, stood: Stood | None, limits: Thresholds) -> Signal | None:
    course = seen.course
    lost = course.unexplained_loss_kg
    if lost is not None and lost >= limits.leak_mass_kg:
        text = f"{_mass(lost)} missing with no transfer recorded. Possible leak."
        return Signal(True, False, Severity.CRITICAL, text, {"lost_kg": lost})
    over = _leak_over(seen, stood, limits)
    if course.pressure_slope_per_h is None or course.temp_slope_k_per_h is None or not course.vapour_only:
        return Signal(False, over, Severity.CRITICAL, "")
    steady = abs(course.temp_slope_k_per_h) <= limits.leak_steady_k_per_h
    fall = -100.0 * course.pressure_slope_per_h
    text = f"Pressure falls by {fall:.1f} % an hour at steady temperature, liquid gone. Possible leak."
    falling = steady and course.pressure_slope_per_h <= limits.leak_per_h
    calm = steady and course.pressure_slope_per_h >= limits.leak_clear_per_h
    return Signal(falling, over and calm, Severity.CRITICAL, text)


def _leak_over(seen: Seen, stood: Stood | None, limits: Thresholds) -> bool:
    """A passed inspection, nothing left to leak, or a weighing that finds the mass again before anything was done."""
    if stood is None:
        return False
    course = seen.course
    acted = stood.after(course.acted_at)
    loss = course.unexplained_loss_kg
    found_again = (
        not acted and stood.after(course.weighed_at) and loss is not None and loss < limits.leak_mass_clear_kg
    )
    return stood.after(course.inspected_at) or seen.belief.is_empty or found_again


def _not_permitted(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal:
    share = seen.permission.not_permitted
    return Signal(
        share >= LIKELY,
        share < limits.unlikely,
        Severity.CRITICAL,
        _why_not(seen, "rated"),
        {"probability": share},
    )


def _not_marked(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal:
    share = seen.permission.not_marked
    text = f"It is likely to hold {seen.name.text}, which burns, and is not marked for flammable gas"
    return Signal(share >= LIKELY, share < limits.unlikely, Severity.WARNING, text, {"probability": share})


def _why_not(seen: Seen, what: str) -> str:
    details = "; ".join(breach.detail for breach in seen.permission.breaches[:2])
    return f"It is not {what} for what is likely in it: {details}"


def _not_empty(seen: Seen, _: Stood | None, __: Thresholds) -> Signal:
    found = seen.state.found_pressure_pa
    if found is None:
        return Signal(False, True, Severity.WARNING, "")
    shown = f"{psi_from_pa(found):.0f} psi ({kpa_from_pa(found):.0f} kPa) absolute"
    text = f"Recorded as empty, but a reading showed {shown}"
    return Signal(True, False, Severity.WARNING, text, {"pressure_pa": found})


def _contradicted(seen: Seen, _: Stood | None, __: Thresholds) -> Signal:
    wrong = contradicted(seen.state, seen.belief)
    text = f"The label says {seen.state.label}; it holds {seen.name.text} ({seen.name.ground})"
    return Signal(wrong, not wrong, Severity.WARNING, text)


def _contaminated(kind: Content, severity: Severity, words: str) -> Rule:
    def rule(seen: Seen, stood: Stood | None, limits: Thresholds) -> Signal:
        share = 0.0 if seen.belief.is_empty else seen.belief.probability(kind)
        if kind is Content.MIXED and seen.name.mixed_on_record:
            share = 1.0
        over = share < limits.unlikely
        if kind is Content.AIR:  # it stays in the vapor, whatever is poured on top
            over = over and _shown(seen, stood)
        text = f"{seen.name.text[:1].upper()}{seen.name.text[1:]}: {words}"
        return Signal(share >= LIKELY, over, severity, text, {"probability": share})

    return rule


def _shown(seen: Seen, stood: Stood | None) -> bool:
    """Whether readings or an analysis have said since a cause began what is in it, or nothing is."""
    analyzed = any(one.source is Source.ANALYSIS for one in seen.belief.contents)
    return analyzed or seen.belief.is_empty or (stood is not None and stood.after(seen.course.judged_at))


def _advice_hold(seen: Seen, _: Stood | None, __: Thresholds) -> Signal:
    judged = seen.state.assessment
    held = (
        judged is not None
        and judged.disposition == DispositionCode.HOLD
        and DispositionCode.HOLD not in seen.state.released
    )
    held = held and not seen.belief.is_empty
    return Signal(held, not held, Severity.WARNING, judged.text if judged is not None else "")


def _implausible(seen: Seen, stood: Stood | None, __: Thresholds) -> Signal:
    """Another word on the label, or a transfer on top of it, explains no mass."""
    found = seen.course.implausible
    explained = _shown(seen, stood) or (stood is not None and stood.after(seen.course.weighed_at))
    return Signal(bool(found), not found and explained, Severity.WARNING, "; ".join(found))


def _overdue(seen: Seen, _: Stood | None, __: Thresholds) -> Signal:
    state = seen.requalification.state
    cleared = state in {State.CURRENT, State.DUE_SOON}
    return Signal(
        state is State.OVERDUE,
        cleared,
        Severity.NOTICE,
        "Retest overdue: empty it and ship it, do not fill it",
    )


def _stale(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    silent_s = seen.live.silent_s if seen.live.attached else 0.0
    if silent_s is None:
        return None
    text = f"No readings for {silent_s / 60.0:.0f} min"
    return Signal(
        silent_s > limits.stale_s,
        silent_s < limits.stale_clear_s,
        Severity.NOTICE,
        text,
        {"silent_s": silent_s},
    )


def _battery(seen: Seen, _: Stood | None, limits: Thresholds) -> Signal | None:
    left = seen.live.battery_percent if seen.live.attached else 100.0
    if left is None:
        return None
    low, full = left <= limits.battery_percent, left >= limits.battery_clear_percent
    return Signal(low, full, Severity.NOTICE, f"Battery at {left:.0f} %", {"battery_percent": left})


def _disagree(seen: Seen, _: Stood | None, __: Thresholds) -> Signal | None:
    told = seen.live.devices_disagree if seen.live.attached else False
    return None if told is None else Signal(told, not told, Severity.WARNING, "Two devices on it disagree")


def _mass(mass_kg: float) -> str:
    return f"{lb_from_kg(mass_kg):.1f} lb ({mass_kg:.2f} kg)"


def _temperature(temp_k: float) -> str:
    return f"{c_from_k(temp_k):.0f} °C ({f_from_k(temp_k):.0f} °F)"


RULES: Final[dict[Kind, Rule]] = {
    Kind.HOT: _hot,
    Kind.PRESSURE: _pressure,
    Kind.LIQUID_FULL: _liquid_full,
    Kind.LIQUID_FULL_SOON: _liquid_full_soon,
    Kind.OVERFULL: _overfull,
    Kind.STOP_FILLING: _stop_filling,
    Kind.BOILING_OFF: _boiling_off,
    Kind.LEAK: _leak,
    Kind.NOT_PERMITTED: _not_permitted,
    Kind.FLAMMABLE_NOT_MARKED: _not_marked,
    Kind.NOT_EMPTY: _not_empty,
    Kind.CLAIM_CONTRADICTED: _contradicted,
    Kind.MIXED: _contaminated(Content.MIXED, Severity.WARNING, "nothing more in"),
    Kind.AIR: _contaminated(
        Content.AIR, Severity.NOTICE, "take the air off with recovery equipment, never vent it"
    ),
    Kind.SHIFTED: _contaminated(Content.SHIFTED, Severity.NOTICE, "do not use it as the blend on the label"),
    Kind.ADVICE_HOLD: _advice_hold,
    Kind.IMPLAUSIBLE: _implausible,
    Kind.OVERDUE: _overdue,
    Kind.STALE: _stale,
    Kind.BATTERY_LOW: _battery,
    Kind.DISAGREE: _disagree,
}
"""What finds each cause, in the order in which causes of one severity stand."""
