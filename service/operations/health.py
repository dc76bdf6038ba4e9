"""Whether the installation does its job: database, workers and their broker, the watch, the deliverer, the outbox."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa

from service.operations import retention
from service.operations.support.context import Services
from service.operations.support.events import PUBLIC_TYPES
from service.store import cursors, heartbeats, migrate, watch
from service.store.heartbeats import EVERYWHERE, Spoken
from service.store.surroundings import Process
from service.store.watch import AttachedPlace

SILENT = timedelta(seconds=60)
"""A worker speaks every few seconds, a deliverer every five."""
BROKER_AWAY = timedelta(seconds=60)
"""A broker that is started again is back by then."""
TAKEN_OUT = timedelta(hours=24)
STUCK = timedelta(seconds=120)
"""An event that waits for so long without a failing receiver waits for us."""
DELIVERER = "deliverer"
WATCH = "watch"
WATCH_SILENT = timedelta(seconds=180)
"""Three rounds of the watch: what time alone makes due is noticed within so long, or somebody is told."""
NOT_DONE = timedelta(hours=36)
"""Nightly retention that is twelve hours late did not happen."""
LEAST_FREE = 50_000_000
"""Room that a database needs to go on by itself for a while [bytes]."""


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at; ``serving`` marks what a request depends on, ``detail`` is not for strangers."""

    name: str
    healthy: bool
    text: str
    serving: bool = False
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Outbox:
    """What waits for one subscription."""

    webhook_id: int
    waiting: int
    oldest_s: float
    failures: int


@dataclass(frozen=True, slots=True)
class Gauges:
    """The installation's state in figures, over all organisations."""

    settling_states: dict[str, int]
    alarms: dict[tuple[str, str], int]
    silences_s: dict[str, float]
    outbox: list[Outbox]
    disabled: int
    pairs: int
    verdicts: int


def beat(services: Services, process: str) -> None:
    """Note that a background process is alive."""
    with services.database.unowned() as connection:
        heartbeats.beat(connection, process, services.now())


def checks(services: Services) -> list[Check]:
    """Everything that is looked at; without a database, that alone."""
    around = [*_stack(services), _disk(services)]
    try:
        current = migrate.at_head(services.database.engine)
    except sa.exc.SQLAlchemyError as error:
        return [Check("database", False, f"does not answer: {type(error).__name__}", serving=True), *around]
    text = (
        "answers, schema current" if current else "its schema is not this version's; run `heelmark migrate`"
    )
    database = Check("database", current, text, serving=True)
    if not current:
        return [database, *around]
    at = services.now()
    with services.database.engine.connect() as connection:
        deliverer = heartbeats.last(connection, DELIVERER)
        watch_round = heartbeats.last(connection, WATCH)
        retained = heartbeats.last(connection, retention.PROCESS)
        backlog = cursors.backlog(connection, PUBLIC_TYPES)
        places, spoken = watch.attached_places(connection), heartbeats.workers(connection)
    workers = [_workers(places, spoken, at), _broker(spoken, at)]
    own = [_watch(watch_round, at), _retention(retained, at)]
    return [database, *around, *workers, *own, _deliverer(bool(backlog), deliverer, at), _outbox(backlog, at)]


def _disk(services: Services) -> Check:
    """Whether what is sent can be kept."""
    free, fault = services.surroundings.free_bytes(), services.database.write_fault()
    if fault is not None:
        return Check("disk", False, "the database cannot be written", detail=fault)
    if free is None or free < LEAST_FREE:
        room = "its folder cannot be read" if free is None else f"only {free / 1e6:.0f} MB are free"
        return Check("disk", False, f"{room}, expected {LEAST_FREE / 1e6:.0f} MB or more")
    return Check("disk", True, "can be written")


def _stack(services: Services) -> list[Check]:
    """The one-machine stack's processes and its nightly backup."""
    stack = services.surroundings.stack()
    if stack is None:
        return []
    if stack.silent_s is not None:
        return [Check("processes", False, "their supervisor is silent")]
    broken, failed = ", ".join(one.name for one in stack.broken), ", ".join(stack.failed)
    told = "; ".join(f"{one.name} {_death(one)}" for one in stack.broken)
    return [
        Check("processes", False, f"not running: {broken}", detail=told)
        if broken
        else Check("processes", True, "all run"),
        Check("nightly", False, f"failed: {failed}", detail="; ".join(stack.failed.values()))
        if failed
        else Check("nightly", True, "the backup has not failed"),
    ]


def _death(process: Process) -> str:
    return f"{process.told}, {'once' if process.deaths == 1 else f'{process.deaths} times'}"


def troubles(services: Services) -> list[str]:
    """What a person at the board must know of the processes beside the service, in sentences."""
    stack = services.surroundings.stack()
    if stack is None:
        return []
    if stack.silent_s is not None:
        return ["The supervisor of this installation's processes is silent."]
    running = [
        f"The {one.name} is not running: it {_death(one)}. It is started again by itself."
        for one in stack.broken
    ]
    return running + [f"The nightly {name} failed: {why}" for name, why in stack.failed.items()]


def gauges(services: Services) -> Gauges | None:
    """Figures for the monitoring; none while the database does not answer or lacks a migration."""
    at = services.now()
    try:
        with services.database.engine.connect() as connection:
            backlog = cursors.backlog(connection, PUBLIC_TYPES)
            places, spoken = watch.attached_places(connection), heartbeats.workers(connection)
            states = watch.settling_states(connection)
            alarms = watch.open_alarms(connection)
            pairs, verdicts = watch.newest_ids(connection)
            _, disabled = watch.enabled_webhooks(connection)
    except sa.exc.SQLAlchemyError:
        return None
    return Gauges(
        states,
        alarms,
        {p.place: _silence(p, spoken, at).total_seconds() for p in places},
        [Outbox(b.webhook_id, b.waiting, _age_s(b.oldest_at, at), b.failures) for b in backlog],
        disabled,
        pairs,
        verdicts,
    )


def _age_s(since: datetime | None, at: datetime) -> float:
    return 0.0 if since is None else (at - since).total_seconds()


def _workers(places: list[AttachedPlace], spoken: list[Spoken], at: datetime) -> Check:
    dead = {p.place for p in places if _silence(p, spoken, at) > SILENT}
    # One of several workers of the same place; after a day it counts as taken out of service.
    dead |= {s.place for s in spoken if places and SILENT < at - s.at < TAKEN_OUT}
    if dead:
        named = ", ".join("several places" if name == EVERYWHERE else name for name in sorted(dead))
        return Check("workers", False, f"a worker is silent for more than {SILENT.seconds} s", detail=named)
    return Check("workers", True, f"speaking for {sum(p.hookups for p in places)} hookups")


def _broker(spoken: list[Spoken], at: datetime) -> Check:
    """Whether the workers that speak hear their broker; one that is silent is judged as such."""
    lost = {one.place: one.broker_lost_at for one in spoken if at - one.at <= SILENT and one.broker_lost_at}
    away = sorted(place for place, since in lost.items() if at - since > BROKER_AWAY)
    if away:
        named = ", ".join("several places" if name == EVERYWHERE else name for name in away)
        text = f"a worker has had no broker for more than {BROKER_AWAY.seconds} s"
        return Check("broker", False, text, detail=named)
    return Check("broker", True, "no worker is without one")


def _silence(place: AttachedPlace, spoken: list[Spoken], at: datetime) -> timedelta:
    """Since a worker spoke for the place, or since it got something to speak of."""
    heard = [
        s.at
        for s in spoken
        if s.organisation_id == place.organisation_id and s.place in (place.place, EVERYWHERE)
    ]
    return at - max([place.attached_at, *heard])


def _watch(last: datetime | None, at: datetime) -> Check:
    """Always required: without it nothing goes stale, overdue or to alarm by time alone."""
    if last is None:
        return Check(WATCH, False, "has not done a round yet; run `heelmark watch`")
    if at - last > WATCH_SILENT:
        text = f"no round was completed for more than {WATCH_SILENT.seconds} s, expected one a minute"
        return Check(WATCH, False, text, detail=f"the last at {last.isoformat()}")
    return Check(WATCH, True, "does its rounds")


def _retention(last: datetime | None, at: datetime) -> Check:
    if last is None:
        return Check(retention.PROCESS, False, "was never done; the watch does it in its first round")
    if at - last > NOT_DONE:
        hours = round(NOT_DONE.total_seconds() / 3600)
        return Check(retention.PROCESS, False, f"not done for more than {hours} h, expected once a night")
    return Check(retention.PROCESS, True, "was done of late")


def _deliverer(needed: bool, last: datetime | None, at: datetime) -> Check:
    if not needed:
        return Check("deliverer", True, "no webhook is enabled")
    if last is None or at - last > SILENT:
        return Check(
            "deliverer", False, "not running" if last is None else f"silent since {last.isoformat()}"
        )
    return Check("deliverer", True, "running")


def _outbox(backlog: list[cursors.Backlog], at: datetime) -> Check:
    # Due long ago and not served: a receiver that fails is postponed, one being caught up with is served.
    stuck = [b for b in backlog if b.oldest_at and at - max(b.oldest_at, b.due_at) > STUCK]
    if stuck:
        text = f"{len(stuck)} webhooks have events waiting for more than {STUCK.seconds} s unsent"
        return Check("outbox", False, text)
    return Check("outbox", True, f"{sum(b.waiting for b in backlog)} events wait")
