"""Courses about where instruments sit and what they go through: two probes, the wrong height, a dip tube, a scale.

Each is a set of its own, so that its row stands beside the others.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from random import Random

from demo.physics import Clamp, ClampSpec, Rig
from tests.benchmarks.settling_courses import (
    Plan,
    already_settled,
    belt,
    filled,
    filling,
    finger,
    fresh_clamp,
    ice,
    leak,
    moved_in,
    moved_out,
    night_in_van,
    outdoors,
    recovery,
    slip,
    stuck_clamp,
    stuck_gauge,
    vapour_only,
)
from tests.benchmarks.settling_links import Beside

SECOND = "second-wall-temperature"


def _with_second(plan: Plan, off_k: float, contact: float) -> Plan:
    """Put another clamp on the same cylinder, off by so much and with so much contact."""

    def site(rig: Rig, rng: Random) -> Beside:
        spec = ClampSpec(lag_s=rng.uniform(20, 120), offset_k=off_k, noise_k=rng.uniform(0.03, 0.12))
        clamp = Clamp(spec, plan.clamp_start_k, rig.cylinder.wall_k, rig.ambient_k)
        clamp.contact = contact

        def read() -> float:
            clamp.step(4.0, rig.cylinder.wall_k, rig.ambient_k)
            return clamp.reading(rng)

        return {SECOND: (4.0, read)}

    plan.site = site
    return plan


def probes_agree(rng: Random) -> Plan:
    """Two good clamps on one cylinder near the room's temperature."""
    plan = _with_second(fresh_clamp(rng), rng.gauss(0, 0.25), 1.0)
    plan.name = "two probes that agree"
    return plan


def probes_differ(rng: Random) -> Plan:
    """Two clamps on one cylinder, of which the other is 2 to 5 K off."""
    plan = _with_second(fresh_clamp(rng), rng.choice((-1, 1)) * rng.uniform(2.0, 5.0), 1.0)
    plan.name = "two probes that differ"
    return plan


def probe_half_on(rng: Random) -> Plan:
    """Two clamps on a cylinder away from the room's temperature, the other with half its contact."""
    plan = _with_second(moved_in(rng), rng.gauss(0, 0.25), rng.uniform(0.3, 0.6))
    plan.name = "two probes, one half on"
    return plan


def vapour_side(rng: Random) -> Plan:
    """The clamp sits above the liquid, on a cylinder that is moved, heated or at rest."""
    plan = rng.choice((fresh_clamp, moved_in, moved_out, belt))(rng)
    plan.name = "clamp above the liquid"

    def site(rig: Rig, _rng: Random) -> Beside:
        rig.dry_share = 1.0
        return {}

    plan.site = site
    return plan


def liquid_valve(rng: Random) -> Plan:
    """The gauge hangs on the liquid valve, over a dip tube, while vapor is drawn."""
    plan = recovery(rng)
    plan.name, plan.valve = "gauge on the liquid valve", "liquid"
    filled_tube = rng.random()

    def site(rig: Rig, _rng: Random) -> Beside:
        above = rig.cylinder.spec.height_m * (1.0 - rig.cylinder.liquid_fraction)
        rig.column_m = filled_tube * above
        return {}

    plan.site = site
    return plan


def weight_rising(rng: Random) -> Plan:
    """Recovery: liquid runs into the cylinder for ten to forty minutes, at the cylinder's own temperature or nearly."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "weight rising", 2 * 3600
    start, length = rng.uniform(600, 1500), rng.uniform(600, 2400)
    return filling(plan, start, length, rng.uniform(5e-4, 4e-3), plan.ambient_k + rng.uniform(-2, 3))


def dying_battery(rng: Random) -> Plan:
    """The clamp's battery dies: its level falls, then it sags and grows noisy; later a fresh one is put in."""
    plan = fresh_clamp(rng)
    plan.name, plan.duration_s = "dying battery", 3 * 3600
    low, sagging, fresh = rng.uniform(900, 2400), rng.uniform(600, 1800), rng.uniform(5400, 7200)
    sag_k, tells = rng.choice((-1, 1)) * rng.uniform(1.0, 6.0), rng.random() < 0.5
    level = {"%": 60.0}
    good: dict[str, ClampSpec] = {}

    def act(t: float, rig: Rig) -> None:
        spec = good.setdefault("spec", rig.clamp.spec)
        gone = min(1.5, max(0.0, (t - low) / sagging))
        if t >= fresh:
            gone = 0.0
        level["%"] = 100.0 if t >= fresh else max(0.0, 12.0 * (1.0 - gone) if gone else 12.0)
        rig.clamp.sag_k = sag_k * max(0.0, gone - 0.5)
        rig.clamp.spec = replace(spec, noise_k=spec.noise_k * math.exp(1.5 * max(0.0, gone - 0.5)))

    def site(_rig: Rig, _rng: Random) -> Beside:
        return {"battery": (60.0, lambda: level["%"])} if tells else {}

    plan.act, plan.site = act, site
    return plan


SETS: dict[str, tuple[Callable[[Random], Plan], ...]] = {
    "A": (fresh_clamp, already_settled, finger, stuck_clamp),
    "B": (
        moved_in,
        moved_out,
        outdoors,
        night_in_van,
        filled,
        belt,
        ice,
        leak,
        recovery,
        slip,
        stuck_gauge,
    ),
    "V": (vapour_only,),
    "two-probes": (probes_agree,),
    "two-probes-differ": (probes_differ, probe_half_on),
    "vapour-side": (vapour_side,),
    "liquid-valve": (liquid_valve,),
    "weight-rising": (weight_rising,),
    "night-in-van": (night_in_van,),
    "battery": (dying_battery,),
}
