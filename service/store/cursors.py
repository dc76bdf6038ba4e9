"""Queries of the deliverer: which cursors are due, leasing one, moving it on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.events import Event
from service.store.tables import events, webhook_cursors, webhooks
from service.store.work import Work, as_record

_c = webhook_cursors.c


@dataclass(frozen=True, slots=True)
class Cursor:
    """A place in one organisation's events from which one subscription is served."""

    id: int
    organisation_id: int
    webhook_id: int
    kind: str
    position: int
    last_event_id: int | None
    failures: int
    failing_since: datetime | None


def due(connection: sa.Connection, at: datetime, types: Sequence[str], limit: int) -> list[Cursor]:
    """Cursors of every organisation that nobody holds, whose time has come, and that are not at their end."""
    waiting = (
        sa.select(events.c.id)
        .where(
            events.c.organisation_id == _c.organisation_id,
            events.c.id > _c.position,
            _c.last_event_id.is_(None) | (events.c.id <= _c.last_event_id),
            events.c.type.in_(types),
        )
        .correlate(webhook_cursors)
        .exists()
    )
    statement = (
        sa.select(webhook_cursors)
        .join(webhooks, webhooks.c.id == _c.webhook_id)
        .where(
            webhooks.c.disabled_at.is_(None),
            _c.due_at <= at,
            _c.leased_until.is_(None) | (_c.leased_until <= at),
            waiting | _c.last_event_id.is_not(None),
        )
        .order_by(_c.due_at)
        .limit(limit)
    )
    return [as_record(row, Cursor) for row in connection.execute(statement).mappings()]


def lease(
    connection: sa.Connection, cursor_id: int, at: datetime, holder: str, until: datetime
) -> Cursor | None:
    """
    Take a cursor that is due and that nobody holds; none when somebody was faster.

    Answers it as it is now: since it was looked for, another may have moved it on and let it go again.
    """
    free = _c.leased_until.is_(None) | (_c.leased_until <= at)
    statement = (
        sa.update(webhook_cursors)
        .where(_c.id == cursor_id, _c.due_at <= at, free)
        .values(lease=holder, leased_until=until)
        .returning(webhook_cursors)
    )
    row = connection.execute(statement).mappings().one_or_none()
    return None if row is None else as_record(row, Cursor)


def ahead(work: Work, cursor: Cursor, types: Sequence[str], horizon: int, limit: int) -> list[Event]:
    """The next events of a cursor up to and with ``horizon``, oldest first."""
    within = (events.c.id > cursor.position, events.c.id <= horizon, events.c.type.in_(types))
    return work.all(work.select(events).where(*within).order_by(events.c.id).limit(limit), Event)


def move(work: Work, cursor: Cursor, holder: str, **values: Any) -> bool:
    """Set columns of a cursor that is still held; false when the lease was lost."""
    return work.update(webhook_cursors, _c.id == cursor.id, _c.lease == holder, **values) == 1


def finish(work: Work, cursor: Cursor, holder: str) -> None:
    """Remove a replay's cursor that has reached its end."""
    work.delete(webhook_cursors, _c.id == cursor.id, _c.lease == holder)


@dataclass(frozen=True, slots=True)
class Backlog:
    """What waits for one enabled subscription."""

    webhook_id: int
    failures: int
    due_at: datetime
    waiting: int
    oldest_at: datetime | None


def backlog(connection: sa.Connection, types: Sequence[str]) -> list[Backlog]:
    """What waits for each enabled subscription's live cursor."""
    ahead_of_it = (
        (events.c.organisation_id == _c.organisation_id)
        & (events.c.id > _c.position)
        & events.c.type.in_(types)
    )
    joined = webhook_cursors.join(webhooks, webhooks.c.id == _c.webhook_id).outerjoin(events, ahead_of_it)
    statement = (
        sa.select(_c.webhook_id, _c.failures, _c.due_at, sa.func.count(events.c.id), sa.func.min(events.c.at))
        .select_from(joined)
        .where(_c.kind == "live", webhooks.c.disabled_at.is_(None))
        .group_by(_c.webhook_id, _c.failures, _c.due_at)
    )
    return [Backlog(*row) for row in connection.execute(statement)]
