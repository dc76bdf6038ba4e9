"""Publishes the scenario over MQTT: hours of the past as fast as the broker takes them, then live."""

import json
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from demo.gateways import Gateways
from demo.job import Job
from demo.registration import Api
from demo.scenario import Scenario
from demo.station import Station

CHUNK_S = 120.0
"""A gateway that was offline sends its store in packs of this length, [s]."""
LONGEST_PAST_S = 24 * 3600.0


@dataclass(frozen=True, slots=True)
class Clock:
    """When the scenario began and up to when it was published, [s] since 1970."""

    began_at: float
    published_until: float


def resume(path: Path, now: float, hours_in_the_past: float) -> Clock:
    """Go on where an earlier run stopped; begin anew in the past at the first run or after a long pause.

    Parameters
    ----------
    path : Path
        Where the clock is kept.
    now : float
        The present, [s] since 1970.
    hours_in_the_past : float
        How far back a fresh scenario begins, [h].
    """
    fresh = math.floor(now - hours_in_the_past * 3600.0)
    if not path.exists():
        return Clock(fresh, fresh)
    clock = Clock(**json.loads(path.read_text(encoding="utf-8")))
    if now - clock.began_at < LONGEST_PAST_S:
        return clock
    return Clock(fresh, max(clock.published_until, fresh))


def save(path: Path, clock: Clock) -> None:
    """Keep the clock for the next run."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_suffix(".new")
    fresh.write_text(
        json.dumps({"began_at": clock.began_at, "published_until": clock.published_until}), encoding="utf-8"
    )
    fresh.replace(path)


def stations_of(scenario: Scenario) -> list[Station]:
    """Make the simulated cylinders."""
    return [
        Station(
            facts=cylinder,
            place=scenario.places[cylinder.place],
            starts_s=(scenario.hours_in_the_past - cylinder.hooked_up_hours_ago) * 3600.0,
            seed=scenario.seed + number,
        )
        for number, cylinder in enumerate(scenario.cylinders)
    ]


def publish(
    scenario: Scenario,
    gateways: Gateways,
    clock: Clock,
    kept: Path,
    stop: Event,
    tell: Callable[[str], None],
    api: Api | None = None,
) -> None:
    """Catch up from the clock to the present, then go on live until told to stop.

    Parameters
    ----------
    scenario : Scenario
        What to simulate.
    gateways : Gateways
        Where packs go.
    clock : Clock
        From `resume`.
    kept : Path
        Where the clock is kept after every chunk.
    stop : Event
        Ends it.
    tell : Callable[[str], None]
        Takes a line for the log.
    api : Api, optional
        The service; with it somebody recovers once it is live.
    """
    stations = stations_of(scenario)
    job = None
    if api is not None:
        job = Job(api, scenario.recovery, {one.facts.serial: one for one in stations}, tell)
        job.take_up()
    published = clock.published_until - clock.began_at
    at, packs, live = min(published, *(station.starts_s for station in stations)), 0, False
    while not stop.is_set():
        present = time.time() - clock.began_at
        at = min(at + CHUNK_S, present)
        if job is not None:
            job.step(at, scenario.reading_period_s)
        for station in stations:
            station.advance(at, scenario.reading_period_s, publish_from_s=published)
        packs += gateways.send(
            (station.place.name, device, pack)
            for station in stations
            for device, pack in station.packs(clock.began_at).items()
        )
        save(kept, Clock(clock.began_at, clock.began_at + max(at, published)))
        if at >= present:
            if not live:
                tell(f"caught up: {packs} packs of the past published; live from now on")
            live = True
            if job is not None:
                job.tick(present)
            stop.wait(scenario.reading_period_s)
