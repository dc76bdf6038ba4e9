"""Courses wider than those that the worker was tuned on: three makes of clamp, any event, any fault at any moment.

A third is kept back by construction: all courses with the third make of clamp, whose heat passes through a body in
three equal stages instead of two lags side by side. Nothing may be tuned on them. Each course is named by its event
and its fault.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from random import Random

from demo.physics import Clamp, Gauge, Rig
from tests.benchmarks.settling_courses import (
    Plan,
    already_settled,
    belt,
    filled,
    fresh_clamp,
    ice,
    leak,
    moved_in,
    moved_out,
    night_in_van,
    outdoors,
    recovery,
)
from tests.benchmarks.settling_links import Beside

Kind = Callable[[Random], Plan]
LONGEST_S = 5 * 3600.0
STAGES = 3


class StagedClamp(Clamp):
    """A clamp whose heat passes through three equal stages one after the other: contact, body, element."""

    def move(self, start_k: float) -> None:
        """Put the clamp on again, starting from `start_k` [K]."""
        self._stages = [start_k] * STAGES

    def step(self, dt_s: float, wall_k: float, ambient_k: float, finger_k: float | None = None) -> None:
        """Advance by `dt_s` [s]; a finger at `finger_k` [K] takes the place of half the wall."""
        target = self._target(wall_k, ambient_k)
        if finger_k is not None:
            target = 0.5 * (target + finger_k)
        self.settle_k = target
        for number in range(STAGES):
            share = -math.expm1(-dt_s * STAGES / self.spec.lag_s)
            self._stages[number] += (target - self._stages[number]) * share
            target = self._stages[number]

    @property
    def true_k(self) -> float:
        """What the element is at, without offset, noise and steps, [K]."""
        return self._stages[-1]


class ShutGauge(Gauge):
    """A gauge behind a valve that somebody has shut: it goes on to show what was in the hose, with its noise."""

    def reading(self, pressure_pa: float, atmosphere_pa: float, rng: Random) -> float:
        """One gauge pressure [Pa]."""
        if self.stuck_at_pa is None:
            return super().reading(pressure_pa, atmosphere_pa, rng)
        held = Gauge(replace(self.spec, zero_pa=0.0, gain=0.0))
        return held.reading(self.stuck_at_pa, 0.0, rng)


def _pipe_clamp(_rig: Rig, _rng: Random) -> None:
    """Leave the clamp that was drawn: two lags, the first of 20 to 180 s."""


def _strap_on(rig: Rig, rng: Random) -> None:
    """A strap-on thermometer that answers in seconds (lags as `settling on other cylinders` drew them)."""
    lag_s = rng.choice((2.0, 6.0, 13.0)) * rng.uniform(0.8, 1.25)
    rig.clamp.spec = replace(rig.clamp.spec, lag_s=lag_s, body_share=rng.uniform(0.0, 0.05))


def _staged(rig: Rig, rng: Random) -> None:
    spec = replace(
        rig.clamp.spec, lag_s=math.exp(rng.uniform(math.log(6.0), math.log(180.0))), body_share=0.0
    )
    rig.clamp = StagedClamp(spec, rig.ambient_k, rig.clamped_wall_k, rig.ambient_k)


MAKES: dict[str, Callable[[Rig, Random], None]] = {"pipe clamp": _pipe_clamp, "strap-on": _strap_on}
KEPT_BACK: dict[str, Callable[[Rig, Random], None]] = {"staged clamp": _staged}

Fault = Callable[[float, float, float, Rig], float | None]
"""What a fault does at a time, with its beginning and its end [s]; answers a finger's temperature [K] or None."""


def _sound(_t: float, _begin_s: float, _end_s: float, _rig: Rig) -> None:
    return None


def _clamp_freezes(t: float, begin_s: float, end_s: float, rig: Rig) -> None:
    if not begin_s <= t < end_s:
        rig.clamp.stuck_at_k = None
    elif rig.clamp.stuck_at_k is None:
        rig.clamp.stuck_at_k = rig.clamp_reading()


def _gauge_freezes(t: float, begin_s: float, end_s: float, rig: Rig) -> None:
    if not begin_s <= t < end_s:
        rig.gauge.stuck_at_pa = None
    elif rig.gauge.stuck_at_pa is None:
        rig.gauge.stuck_at_pa = rig.gauge_reading()


def _valve_shut(t: float, begin_s: float, end_s: float, rig: Rig) -> None:
    if not isinstance(rig.gauge, ShutGauge):
        rig.gauge = ShutGauge(rig.gauge.spec)
    _gauge_freezes(t, begin_s, end_s, rig)


def _slips(t: float, begin_s: float, _end_s: float, rig: Rig) -> None:
    if t >= begin_s and rig.clamp.contact == 1.0:
        rig.clamp.contact = 0.5 + 0.4 * (begin_s % 1.0)


def _held(t: float, begin_s: float, end_s: float, _rig: Rig) -> float | None:
    return 306.0 if begin_s <= t < min(end_s, begin_s + 240.0) else None


FAULTS: dict[str, Fault] = {
    "sound": _sound,
    "clamp freezes": _clamp_freezes,
    "gauge freezes": _gauge_freezes,
    "valve shut": _valve_shut,
    "clamp slips": _slips,
    "finger": _held,
}
AT_REST: tuple[Kind, ...] = (fresh_clamp, already_settled)
MOVING: tuple[Kind, ...] = (
    moved_in,
    moved_out,
    outdoors,
    night_in_van,
    filled,
    belt,
    ice,
    leak,
    recovery,
)


def _course(event: Kind, fault: str, make: Callable[[Rig, Random], None], make_name: str) -> Kind:
    """Return a kind: an event on a cylinder, one fault at any moment of it for 2 to 90 minutes, one make of clamp."""

    def course(rng: Random) -> Plan:
        plan = event(rng)
        plan.name = f"{plan.name} / {fault}"
        plan.duration_s = min(plan.duration_s, LONGEST_S)
        begin_s = rng.uniform(60.0, 0.9 * plan.duration_s)
        end_s = begin_s + math.exp(rng.uniform(math.log(120.0), math.log(5400.0)))
        inner, happens, site = plan.act, FAULTS[fault], plan.site

        def act(t: float, rig: Rig) -> float | None:
            fingered = inner(t, rig)
            own = happens(t, begin_s, end_s, rig)
            return fingered if own is None else own

        def with_make(rig: Rig, beside_rng: Random) -> Beside:
            make(rig, beside_rng)
            rig.clamp.move(plan.clamp_start_k if plan.fresh else rig.clamp.settle_k)
            return site(rig, beside_rng)

        plan.act, plan.site = act, with_make
        return plan

    course.__name__ = f"{event.__name__}/{fault}/{make_name}"
    return course


def _all(events: tuple[Kind, ...], makes: dict[str, Callable[[Rig, Random], None]]) -> tuple[Kind, ...]:
    """Return every event with every fault, sound ones as often as all faults together, in every make of clamp."""
    named = [*FAULTS, *["sound"] * (len(FAULTS) - 2)]
    courses = [
        _course(event, fault, make, name)
        for fault in named
        for event in events
        for name, make in makes.items()
    ]
    # Few runs are then a fair sample of them all.
    Random(1).shuffle(courses)
    return tuple(courses)


WIDE: dict[str, tuple[Kind, ...]] = {
    "wide-A": _all(AT_REST, MAKES),
    "wide-B": _all(MOVING, MAKES),
    "kept-back-A": _all(AT_REST, KEPT_BACK),
    "kept-back-B": _all(MOVING, KEPT_BACK),
}
"""Sets of the bench; no value of the worker may be chosen by the last two."""
