"""Reading the append-only event table."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import events
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


def since(
    work: Work,
    last_id: int,
    *,
    limit: int = 500,
    types: Sequence[str] = (),
    without: Sequence[str] = (),
) -> list[Event]:
    """Events after an id, oldest first, of some types or without some."""
    statement = work.select(events).where(events.c.id > last_id)
    if types:
        statement = statement.where(events.c.type.in_(types))
    if without:
        statement = statement.where(events.c.type.not_in(without))
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
