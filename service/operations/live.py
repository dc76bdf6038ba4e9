"""Use cases for live values: what the worker says every few seconds; shown, never evidence."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import structlog

from service.operations import not_understood
from service.operations.hookups import by_id
from service.operations.not_understood import Unread
from service.operations.support import recent
from service.operations.support.atmosphere import PressureReading, absolute
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services
from service.operations.support.errors import ODD
from service.operations.support.inflows import TRACE_EVERY
from service.store import devices, heartbeats, hookups, live, recoveries
from service.store.heartbeats import WorkerPulse
from service.store.hookups import Hookup
from service.store.live import Live, TracePoint
from service.store.work import Work

log = structlog.get_logger(__name__)

URGENT_K, URGENT_PA, URGENT_PERCENT = 316.0, 1.3e6, 15.0
"""A little before any alarm of heat, pressure or battery is raised [K], [Pa gauge], [%]."""
SNAPSHOT_EVERY_S, TURNS = 2.0, 8
"""Batches come every two seconds; a hookup that looks well has its alarms reviewed every eighth time."""
LAG_STEP_S = 2.0
"""A learned lag is written again when it moved by this much, not with every snapshot [s]."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The state of one hookup; ``document`` is what the worker said, for showing."""

    hookup_id: int
    at: datetime
    settling_state: str
    temp_k: float | None
    pressure: PressureReading | None
    mass_kg: float | None
    probe_lag_s: float | None
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Sighting:
    """A device that was heard, with its last readings."""

    name: str
    place: str | None
    last_seen_at: datetime
    readings: Mapping[str, Any]


def beat(services: Services, actor: Actor, speaks_for: str, broker_lost_s: float | None = None) -> None:
    """
    Note that a worker is alive that answers for a place, or for several (``*``): its silence is noticed then.

    ``broker_lost_s`` says for how long it has had no broker [s]; None while it has one.
    """
    at = services.now()
    lost_at = None if broker_lost_s is None else at - timedelta(seconds=broker_lost_s)
    with services.database.writing(actor.organisation_id) as work:
        pulse = WorkerPulse(actor.organisation_id, actor.name, speaks_for)
        heartbeats.beat(work.connection, pulse.process, at, broker_lost_at=lost_at)


def put(
    services: Services,
    actor: Actor,
    snapshots: Sequence[Snapshot],
    sightings: Sequence[Sighting],
    unread: Sequence[Unread] = (),
) -> list[Snapshot | Sighting]:
    """
    Take a batch of live values; snapshots of hookups that are not active are left out.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    snapshots
        At most one a hookup counts, the newest.
    sightings
        Devices heard, attached or not.
    unread
        What the worker could not read.

    Returns
    -------
    list
        What could not be kept for a reason of its own; everything else is kept.
    """
    newest = {s.hookup_id: s for s in sorted(snapshots, key=lambda snapshot: snapshot.at)}
    heard = {s.name: s for s in sorted(sightings, key=lambda sighting: sighting.last_seen_at)}
    try:
        _put(services, actor, newest, heard, unread)
    except ODD as error:
        if len(newest) + len(heard) > 1:
            return _one_by_one(services, actor, newest, heard)
        log.error("a live value cannot be kept", items=[*newest, *heard], exc_info=error)
        return [*newest.values(), *heard.values()]
    return []


def _one_by_one(
    services: Services, actor: Actor, newest: Mapping[int, Snapshot], heard: Mapping[str, Sighting]
) -> list[Snapshot | Sighting]:
    failed = [one for snapshot in newest.values() for one in put(services, actor, [snapshot], [])]
    return failed + [one for sighting in heard.values() for one in put(services, actor, [], [sighting])]


def _put(
    services: Services,
    actor: Actor,
    newest: Mapping[int, Snapshot],
    heard: Mapping[str, Sighting],
    unread: Sequence[Unread],
) -> None:
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        active = hookups.active_among(work, list(newest))
        kept = [(newest[hookup_id], hookup) for hookup_id, hookup in active.items()]
        live.put(
            work, [_row(snapshot, _absolute_pa(services, snapshot, hookup), at) for snapshot, hookup in kept]
        )
        live.keep(
            work, [_point(snapshot, _absolute_pa(services, snapshot, hookup)) for snapshot, hookup in kept]
        )
        devices.see(work, [_device(sighting) for sighting in heard.values()])
        not_understood.note(work, unread, at)
        _learn(work, kept)
        weighed = [hookup.cylinder_id for snapshot, hookup in kept if snapshot.mass_kg is not None]
        filled = recoveries.filling(work, weighed) if weighed else {}
        due = [
            (snapshot, hookup)
            for snapshot, hookup in kept
            if hookup.cylinder_id in filled or _review_due(snapshot)
        ]
        falling = [hookup for snapshot, hookup in due if snapshot.settling_state in recent.FALLING]
        lately = recent.of_hookups(work, falling, at)
        review(services, work, actor, at, {hookup.cylinder_id for _, hookup in due}, recent=lately)


def require(services: Services, actor: Actor, hookup_id: int) -> None:
    """Refuse a hookup that the organisation does not have."""
    with services.database.reading(actor.organisation_id) as work:
        by_id(work, hookup_id)


def _review_due(snapshot: Snapshot) -> bool:
    """Whether alarms are looked at now: at once where something may be wrong, else each hookup in its turn."""
    document = snapshot.document
    gauge_pa, battery = live.stated_gauge_pa(document), document.get("battery_percent")
    urgent = (
        (snapshot.temp_k is not None and snapshot.temp_k >= URGENT_K)
        or (gauge_pa is not None and gauge_pa >= URGENT_PA)
        or (battery is not None and battery <= URGENT_PERCENT)
        or "devices-disagree" in (document.get("reasons") or ())
    )
    turn = int(snapshot.at.timestamp() // SNAPSHOT_EVERY_S)
    return urgent or (turn + snapshot.hookup_id) % TURNS == 0


def of_hookup(services: Services, actor: Actor, hookup_id: int) -> Live | None:
    """The last live values of a hookup, none before the worker has spoken of it."""
    with services.database.reading(actor.organisation_id) as work:
        by_id(work, hookup_id)
        return live.of_hookups(work, [hookup_id]).get(hookup_id)


def trace(
    services: Services, actor: Actor, hookup_id: int, *, since: datetime | None = None
) -> list[TracePoint]:
    """The thinned course of a hookup."""
    with services.database.reading(actor.organisation_id) as work:
        by_id(work, hookup_id)
        return live.trace_of(work, hookup_id, since=since)


def _row(snapshot: Snapshot, pressure_pa: float | None, received_at: datetime) -> dict[str, Any]:
    return {
        "hookup_id": snapshot.hookup_id,
        "at": snapshot.at,
        "received_at": received_at,
        "settling_state": snapshot.settling_state,
        "temp_k": snapshot.temp_k,
        "pressure_pa": pressure_pa,
        "document": dict(snapshot.document),
    }


def _point(snapshot: Snapshot, pressure_pa: float | None) -> dict[str, Any]:
    # The first snapshot of each span is kept under the span's own time, which thins without reading back.
    step = TRACE_EVERY.total_seconds()
    span = datetime.fromtimestamp(round(snapshot.at.timestamp() / step) * step, UTC)
    return {
        "hookup_id": snapshot.hookup_id,
        "at": span,
        "settling_state": snapshot.settling_state,
        "temp_k": snapshot.temp_k,
        "pressure_pa": pressure_pa,
        "mass_kg": snapshot.mass_kg,
    }


def _absolute_pa(services: Services, snapshot: Snapshot, hookup: Hookup) -> float | None:
    if snapshot.pressure is None:
        return None
    return absolute(snapshot.pressure, services.policy.elevation_m(hookup.elevation_m)).pressure_pa


def _device(sighting: Sighting) -> dict[str, Any]:
    return {
        "name": sighting.name,
        "place": sighting.place,
        "last_seen_at": sighting.last_seen_at,
        "readings": dict(sighting.readings),
    }


def _learn(work: Work, kept: Sequence[tuple[Snapshot, Hookup]]) -> None:
    for snapshot, hookup in kept:
        lag_s = snapshot.probe_lag_s
        if lag_s is None or (hookup.probe_lag_s is not None and abs(lag_s - hookup.probe_lag_s) < LAG_STEP_S):
            continue
        hookups.learn_lag(work, hookup.id, lag_s)
        devices.learn_lag(work, hookup.temperature_device, lag_s)
