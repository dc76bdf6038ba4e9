"""Courses of events for the settling bench: what happens to a cylinder, and what its instruments send."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

from demo.physics import (
    ClampSpec,
    Cylinder,
    CylinderSpec,
    GaugeSpec,
    Rig,
    Saturated,
    Surroundings,
    VapourOnly,
)
from tests.benchmarks.settling_links import TICK_S, Beside, Link, Sender, Sent
from tests.support.curves import DESIGNATIONS, saturated

ATMOSPHERE_PA = 101325.0


class Truth(NamedTuple):
    """What nobody sees: gap between clamp and saturation temperature, drift, flow, true temperatures."""

    at_s: float
    gap_k: float
    drift_k_s: float
    flow: bool
    clamp_k: float
    pressure_pa: float
    vapour_only: bool


@dataclass(slots=True)
class Plan:
    """A course: how the cylinder starts, how long it runs, and what acts on it at each time."""

    name: str
    duration_s: float
    start_k: float
    ambient_k: float
    clamp_start_k: float
    around: Callable[[float], Surroundings]
    act: Callable[[float, Rig], float | None] = field(default=lambda _t, _rig: None)
    vapour_only: bool = False
    contact: float = 1.0
    fresh: bool = True
    valve: str = "vapour"
    site: Callable[[Rig, Random], Beside] = field(default=lambda _rig, _rng: {})


def _still(ambient_k: float) -> Callable[[float], Surroundings]:
    return lambda _t: Surroundings(ambient_k)


def fresh_clamp(rng: Random) -> Plan:
    """A clamp from a pocket or a cold van onto a cylinder near the room's temperature."""
    room = 293.15 + rng.uniform(-8, 12)
    return Plan(
        "fresh clamp",
        2700,
        room + rng.uniform(-0.6, 0.6),
        room,
        room + rng.choice((-1, 1)) * rng.uniform(3, 15),
        _still(room),
    )


def already_settled(rng: Random) -> Plan:
    """The clamp has been on all night."""
    room = 293.15 + rng.uniform(-8, 12)
    return Plan("already settled", 1800, room, room, room, _still(room), fresh=False)


def finger(rng: Random) -> Plan:
    """Somebody holds the clamp for some minutes."""
    plan = fresh_clamp(rng)
    start, length = rng.uniform(600, 1200), rng.uniform(30, 240)
    plan.name, plan.duration_s = "finger", 3600
    plan.act = lambda t, _rig: 306.0 if start <= t < start + length else None
    return plan


def stuck_clamp(rng: Random) -> Plan:
    """The thermometer repeats one code for a while, then goes on."""
    plan = fresh_clamp(rng)
    plan.name = "stuck thermometer"
    start, length = rng.uniform(60, 400), rng.uniform(300, 900)

    def act(t: float, rig: Rig) -> None:
        if start <= t < start + length:
            if rig.clamp.stuck_at_k is None:
                rig.clamp.stuck_at_k = rig.clamp_reading()
        else:
            rig.clamp.stuck_at_k = None

    plan.act = act
    return plan


def moved_in(rng: Random) -> Plan:
    """Out of a hot van into a cool shop."""
    room = 293.15 + rng.uniform(-4, 4)
    start = room + rng.uniform(6, 18)
    return Plan("out of a hot van", 5 * 3600, start, room, room + rng.uniform(-2, 4), _still(room))


def moved_out(rng: Random) -> Plan:
    """From a cold place into a warm one."""
    room = 295.15 + rng.uniform(-4, 6)
    start = room - rng.uniform(6, 18)
    return Plan("out of the cold", 5 * 3600, start, room, room + rng.uniform(-3, 3), _still(room))


def outdoors(rng: Random) -> Plan:
    """Air temperature swings through the day."""
    mean, swing, phase = 293.15 + rng.uniform(-6, 6), rng.uniform(2, 7), rng.uniform(0, 2 * math.pi)

    def around(t: float) -> Surroundings:
        return Surroundings(mean + swing * math.sin(2 * math.pi * t / 86400 + phase))

    air = around(0).ambient_k
    return Plan("outdoors", 8 * 3600, air + rng.uniform(-2, 2), air, air + rng.uniform(-4, 4), around)


def night_in_van(rng: Random) -> Plan:
    """A van cools through the night."""
    evening, fall, decay = 303.15 + rng.uniform(-5, 8), rng.uniform(6, 16), rng.uniform(1.5, 4) * 3600

    def around(t: float) -> Surroundings:
        return Surroundings(evening - fall * -math.expm1(-t / decay))

    return Plan("night in a van", 10 * 3600, evening, evening, evening + rng.uniform(-4, 4), around)


def filled(rng: Random) -> Plan:
    """Liquid is put in at another temperature."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "filled", 4 * 3600
    start, length = rng.uniform(1500, 2400), rng.uniform(180, 600)
    rate, temp = rng.uniform(0.004, 0.012), plan.ambient_k + rng.uniform(-12, 15)
    return filling(plan, start, length, rate, temp)


def filling(plan: Plan, start_s: float, length_s: float, rate_kg_s: float, temp_k: float) -> Plan:
    """Let liquid of a temperature [K] run in for a while [s]."""

    def around(t: float) -> Surroundings:
        on = start_s <= t < start_s + length_s
        return Surroundings(plan.ambient_k, fill_kg_s=rate_kg_s if on else 0.0, fill_temp_k=temp_k)

    plan.around = around
    return plan


def belt(rng: Random) -> Plan:
    """A warming belt for half an hour."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "belt", 5 * 3600
    start, length, power = rng.uniform(1200, 2400), rng.uniform(900, 2400), rng.uniform(80, 250)
    plan.around = lambda t: Surroundings(plan.ambient_k, heat_w=power if start <= t < start + length else 0.0)
    return plan


def ice(rng: Random) -> Plan:
    """Ice water for half an hour."""
    plan = belt(rng)
    plan.name = "ice"
    start, length, power = rng.uniform(1200, 2400), rng.uniform(900, 2400), rng.uniform(80, 250)
    plan.around = lambda t: Surroundings(
        plan.ambient_k, heat_w=-power if start <= t < start + length else 0.0
    )
    return plan


def leak(rng: Random) -> Plan:
    """Vapor leaks slowly, then somebody closes the valve."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "vapor leak", 4 * 3600
    start, length, rate = rng.uniform(0, 3000), rng.uniform(2400, 7000), 10 ** rng.uniform(-4.6, -3.5)
    plan.around = lambda t: Surroundings(
        plan.ambient_k, draw_kg_s=rate if start <= t < start + length else 0.0
    )
    return plan


def recovery(rng: Random) -> Plan:
    """Vapor is drawn off quickly through the valve for some minutes."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "vapor drawn", 5 * 3600
    start, length, rate = rng.uniform(1200, 2400), rng.uniform(300, 1200), rng.uniform(5e-4, 3e-3)
    plan.around = lambda t: Surroundings(
        plan.ambient_k, draw_kg_s=rate if start <= t < start + length else 0.0
    )
    return plan


def slip(rng: Random) -> Plan:
    """The clamp loses some of its contact on a cylinder away from the air's temperature."""
    plan = moved_in(rng)
    plan.name, plan.duration_s = "probe slip", 4 * 3600
    at, contact = rng.uniform(1200, 7000), rng.uniform(0.5, 0.9)

    def act(t: float, rig: Rig) -> None:
        if t >= at:
            rig.clamp.contact = contact

    plan.act = act
    return plan


def stuck_gauge(rng: Random) -> Plan:
    """The gauge freezes while the cylinder moves."""
    plan = moved_in(rng) if rng.random() < 0.5 else moved_out(rng)
    plan.name = "stuck gauge"
    at, length = rng.uniform(600, 5000), rng.uniform(1200, 5000)

    def act(t: float, rig: Rig) -> None:
        if at <= t < at + length:
            if rig.gauge.stuck_at_pa is None:
                rig.gauge.stuck_at_pa = rig.gauge_reading()
        else:
            rig.gauge.stuck_at_pa = None

    plan.act = act
    return plan


def vapour_only(rng: Random) -> Plan:
    """No liquid left, moved between two temperatures."""
    plan = moved_in(rng) if rng.random() < 0.5 else moved_out(rng)
    plan.name, plan.vapour_only = "no liquid", True
    return plan


def saturation_temp_k(contents: Saturated, pressure_pa: float, start_k: float) -> float:
    """Return the saturation temperature [K] at a pressure [Pa], by Newton's method."""
    goal, temp = math.log(pressure_pa), start_k
    for _ in range(20):
        slope = (contents.log_pressure(temp + 0.01) - contents.log_pressure(temp - 0.01)) / 0.02
        temp = min(400.0, max(180.0, temp + (goal - contents.log_pressure(temp)) / slope))
    return temp


def build(plan: Plan, link: Link, rng: Random) -> Rig:
    """Draw the cylinder, its contents and its instruments."""
    designation = rng.choice(DESIGNATIONS)
    contents = saturated(designation)
    spec = CylinderSpec.draw(rng)
    full = contents.liquid_density * spec.water_volume_m3
    pressure = contents.pressure_pa(298.15)
    if plan.vapour_only:
        cold = min(plan.start_k, plan.ambient_k) - 3.0
        share = rng.uniform(0.2, 0.9) * contents.pressure_pa(cold) / pressure
        cylinder = Cylinder(spec, VapourOnly(share * pressure), rng.uniform(0.1, 0.5), plan.start_k)
    else:
        cylinder = Cylinder(spec, contents, full * rng.uniform(0.15, 0.8), plan.start_k)
    clamp = ClampSpec(
        lag_s=math.exp(rng.uniform(math.log(20), math.log(180))),
        body_share=rng.uniform(0.0, 0.1),
        body_lag_ratio=rng.uniform(3.0, 7.0),
        stem=rng.uniform(0.0, 0.02),
        offset_k=rng.gauss(0, 0.25),
        noise_k=rng.uniform(*link.clamp_noise),
        step_k=rng.choice(link.clamp_steps),
    )
    gauge = GaugeSpec(
        zero_pa=rng.gauss(0, 3000),
        gain=rng.gauss(0, 0.004),
        noise_pa=6894.76 * rng.uniform(*link.gauge_noise_psi),
        step_pa=6894.76 * rng.choice(link.gauge_steps_psi),
    )
    rig = Rig(cylinder, clamp, gauge, plan.ambient_k, rng, ATMOSPHERE_PA)
    rig.clamp.move(plan.clamp_start_k if plan.fresh else rig.clamp.settle_k)
    return rig


def shown_gap_k(rig: Rig, without_liquid_k: float) -> float:
    """Return clamp minus saturation temperature as the two instruments show them, calibration taken out, [K]."""
    contents = rig.cylinder.contents
    saturation = rig.cylinder.surface_k if contents.has_liquid else without_liquid_k
    if rig.column_m and isinstance(contents, Saturated):
        saturation = saturation_temp_k(contents, rig.pressure_at_gauge_pa, saturation)
    clamp = rig.clamp.true_k + rig.clamp.sag_k
    if rig.clamp.stuck_at_k is not None:
        clamp = rig.clamp.stuck_at_k - rig.clamp_spec.offset_k
    if rig.gauge.stuck_at_pa is not None and isinstance(contents, Saturated):
        stuck = (rig.gauge.stuck_at_pa - rig.gauge_spec.zero_pa) / (1 + rig.gauge_spec.gain)
        saturation = saturation_temp_k(contents, stuck + ATMOSPHERE_PA, saturation)
    return clamp - saturation


def usual_site(rig: Rig, rng: Random) -> Beside:
    """An air thermometer in the room and a scale under the cylinder."""
    off_k = rng.gauss(0.0, 0.4)
    rig.tare_kg = rng.uniform(8.0, 25.0)

    def air() -> float:
        return round(rig.ambient_k + off_k + rng.gauss(0.0, 0.1), 1)

    def scale() -> float:
        return round((rig.cylinder.net_kg + rig.tare_kg + rng.gauss(0.0, 0.003)) / 0.01) * 0.01

    return {"ambient-temperature": (30.0, air), "mass": (10.0, scale)}


def run(plan: Plan, link: Link, rng: Random) -> Iterator[tuple[Truth, list[Sent]]]:
    """Step a course tick by tick, giving the truth and what was sent in that tick."""
    rig = build(plan, link, rng)
    beside_rng = Random(f"beside/{rng.getstate()[1][:4]}")
    beside = usual_site(rig, beside_rng) | plan.site(rig, beside_rng)
    sender = Sender(link, rng, beside, beside_rng)
    start_k = rig.cylinder.surface_k
    has_liquid = rig.cylinder.contents.has_liquid
    t = 0.0
    recent: list[float] = []
    while t < plan.duration_s:
        around = plan.around(t)
        fingered = plan.act(t, rig)
        rig.step(TICK_S, around, fingered)
        t += TICK_S
        recent = [*recent[-15:], rig.clamp.true_k]
        drift = (recent[-1] - recent[0]) / 30.0
        flow = around.draw_kg_s > 0 or around.fill_kg_s > 0 or fingered is not None
        pressure_pa = rig.cylinder.pressure_pa
        gap = shown_gap_k(rig, start_k)
        yield Truth(t, gap, drift, flow, rig.clamp.true_k, pressure_pa, not has_liquid), sender.send(t, rig)
