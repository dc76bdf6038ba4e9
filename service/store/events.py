"""Reading the append-only event table."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.places import ids_of
from service.store.tables import alarms, cylinders, events
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened and was committed."""

    id: int
    organisation_id: int
    at: datetime
    type: str
    subject: str
    actor: str
    data: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Sight:
    """
    Which events somebody may see.

    Parameters
    ----------
    types
        These alone; all of them when empty.
    without
        All but these.
    places
        Those about cylinders that stand now at one of these places, their alarms, and the places; None: all.
    """

    types: Sequence[str] = ()
    without: Sequence[str] = ()
    places: Collection[str] | None = None


def since(work: Work, last_id: int, *, limit: int = 500, sight: Sight | None = None) -> list[Event]:
    """Events after an id, oldest first, as far as they are in sight."""
    statement = work.select(events).where(events.c.id > last_id)
    if sight is not None and sight.types:
        statement = statement.where(events.c.type.in_(sight.types))
    if sight is not None and sight.without:
        statement = statement.where(events.c.type.not_in(sight.without))
    if sight is not None and sight.places is not None:
        statement = statement.where(_about(work, sight.places))
    return work.all(statement.order_by(events.c.id).limit(limit), Event)


def about(work: Work, subject: str, *, before: int | None = None, limit: int = 100) -> list[Event]:
    """Events of one subject, newest first."""
    statement = work.select(events).where(events.c.subject == subject)
    if before is not None:
        statement = statement.where(events.c.id < before)
    return work.all(statement.order_by(events.c.id.desc()).limit(limit), Event)


def page(
    work: Work, request: PageRequest, *, start: datetime | None, end: datetime | None, **equal: str | None
) -> Page[Event]:
    """Events newest first, of a period and with columns equal to what is given."""
    statement = work.select(events)
    for name, value in equal.items():
        if value is not None:
            statement = statement.where(events.c[name] == value)
    if start is not None:
        statement = statement.where(events.c.at >= start)
    if end is not None:
        statement = statement.where(events.c.at < end)
    return fetch_page(work, statement, events.c.id, Event, request, newest_first=True)


def _about(work: Work, names: Collection[str]) -> sa.ColumnElement[bool]:
    there = cylinders.c.place_id.in_(ids_of(work, names))
    serials = work.select(cylinders, sa.literal("cylinders/") + cylinders.c.serial).where(there)
    raised = work.select(alarms, sa.literal("alarms/") + sa.cast(alarms.c.id, sa.String)).where(
        alarms.c.cylinder_id.in_(work.select(cylinders, cylinders.c.id).where(there))
    )
    subjects = [f"places/{name}" for name in names]
    return events.c.subject.in_(serials) | events.c.subject.in_(raised) | events.c.subject.in_(subjects)


def newest_id(work: Work, *types: str) -> int:
    """The id of the organisation's newest event, of some types if any are named; 0 when there is none."""
    newest = work.select(events, sa.func.max(events.c.id))
    if types:
        newest = newest.where(events.c.type.in_(types))
    return int(work.connection.execute(newest).scalar_one() or 0)


def newest_ids(connection: sa.Connection) -> dict[int, int]:
    """The newest event id of each organisation, for the tail that wakes streams."""
    per_owner = sa.select(events.c.organisation_id, sa.func.max(events.c.id)).group_by(
        events.c.organisation_id
    )
    return {int(owner): int(newest) for owner, newest in connection.execute(per_owner)}
