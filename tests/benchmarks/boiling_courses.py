"""What happens to the simulated cylinders of the boiling bench: quiet ones, and ones that boil off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from random import Random

from demo.physics import CylinderSpec, Rig, Surroundings


@dataclass
class Run:
    """One simulated cylinder and what happens to it after a calm quarter of an hour."""

    name: str
    around: Callable[[float, Rig], Surroundings]
    lasts_s: float = 2400.0
    start_k: float = 293.15
    clamp_start_k: float | None = None
    gauge_falls: Callable[[float], float] = field(default=lambda _s: 1.0)
    dry_share: float | None = None
    spec: CylinderSpec | None = None
    filled: float | None = None


def cold_store(rng: Random) -> Run:
    """Out of a hot van into a cold store with its fans on."""
    van, store = rng.uniform(293.0, 328.0), rng.uniform(248.0, 279.0)
    film = rng.uniform(8.0, 20.0)
    return Run("hot van to cold store", _to_air(store, film), start_k=van)


def door(rng: Random) -> Run:
    """The van's doors are opened to colder weather, and wind goes through."""
    van = rng.uniform(288.0, 325.0)
    return Run(
        "van's doors opened", _to_air(van - rng.uniform(5.0, 40.0), rng.uniform(8.0, 25.0)), start_k=van
    )


def weather(rng: Random) -> Run:
    """Sun, then a cloud, then rain on a cylinder outdoors."""
    air, sun, film = rng.uniform(263.0, 308.0), rng.uniform(50.0, 250.0), rng.uniform(8.0, 35.0)

    def around(after_s: float, rig: Rig) -> Surroundings:
        if after_s < 0:
            return Surroundings(air, sun_w=sun)
        rig.cylinder.spec = replace(rig.cylinder.spec, outside_film=film)
        return Surroundings(air - rng.uniform(0, 1) - min(6.0, after_s / 200.0))

    return Run("sun, then rain", around, start_k=air + 3.0)


def water(rng: Random) -> Run:
    """Set into cold water or ice, as people do to bring the pressure down."""
    start, bath = rng.uniform(293.0, 318.0), rng.uniform(273.2, 290.0)
    return Run("cold water", _to_air(bath, rng.uniform(100.0, 400.0)), start_k=start)


def clamp_put_on(rng: Random) -> Run:
    """A warm clamp onto a cold cylinder: the course begins with it."""
    air = rng.uniform(263.0, 300.0)
    return Run(
        "warm clamp put on", lambda _s, _rig: Surroundings(air), start_k=air,
        clamp_start_k=air + rng.uniform(5.0, 30.0),
    )  # fmt: skip


def hose(rng: Random) -> Run:
    """The valve is closed and the hose loses its pressure, at once or within minutes, while the air cools a little."""
    air, lasts = rng.uniform(278.0, 308.0), rng.choice((5.0, 60.0, 400.0, 1500.0))
    cooler = rng.uniform(0.0, 6.0)
    return Run(
        "hose vented", lambda s, _rig: Surroundings(air - cooler * (s > 0)), start_k=air,
        gauge_falls=lambda s: max(0.0, 1.0 - max(0.0, s) / lasts),
    )  # fmt: skip


def quiet(rng: Random) -> Run:
    """Nothing happens; the room's heating or cooling goes on and off."""
    air, swing = rng.uniform(275.0, 308.0), rng.uniform(0.0, 5.0)
    return Run(
        "quiet",
        lambda s, _rig: Surroundings(air + swing * ((int(s) // 900) % 2)),
        start_k=air,
        lasts_s=7200.0,
    )


def boils(low: float, high: float) -> Callable[[Random], Run]:
    """Vapor escapes, at a rate between two [kg/min] that is drawn on a logarithmic scale."""

    def make(rng: Random) -> Run:
        rate = low * (high / low) ** rng.random() / 60.0
        air = rng.uniform(268.0, 313.0)
        return Run(
            f"boils off, {low:g} to {high:g} kg/min",
            lambda s, _rig: Surroundings(air, draw_kg_s=rate if s > 0 else 0.0), start_k=air, lasts_s=900.0,
        )  # fmt: skip

    return make


def fast(share_dry: float, name: str) -> Callable[[Random], Run]:
    """From 22 to -3 °C in eight minutes, half full, with the clamp on the wet wall or above the liquid."""

    def make(_rng: Random) -> Run:
        return Run(
            f"22 to -3 °C in 8 min, {name}",
            lambda s, _rig: Surroundings(295.15, draw_kg_s=FAST_KG_S if s > 0 else 0.0),
            start_k=295.15, lasts_s=480.0, dry_share=share_dry, spec=CylinderSpec(), filled=0.5,
        )  # fmt: skip

    return make


FAST_KG_S = 0.0066
"""Cools a cylinder of 21.7 L, half full of R-410A, from 22 to -3 °C in eight minutes [kg/s]."""
QUIET = (cold_store, door, weather, water, clamp_put_on, hose, quiet)
BOILING = (
    fast(0.0, "clamp below the level"),
    fast(1.0, "clamp above it"),
    boils(0.02, 0.06),
    boils(0.06, 0.2),
    boils(0.2, 1.0),
)


def _to_air(air_k: float, film: float) -> Callable[[float, Rig], Surroundings]:
    def around(after_s: float, rig: Rig) -> Surroundings:
        if after_s < 0:
            return Surroundings(rig.cylinder.start_temp_k)
        rig.cylinder.spec = replace(rig.cylinder.spec, outside_film=film)
        return Surroundings(air_k)

    return around
