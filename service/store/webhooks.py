"""Queries for webhook subscriptions, their cursors and their delivery log."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import events, webhook_attempts, webhook_cursors, webhooks
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Webhook:
    """A subscription, and how its live cursor fares."""

    id: int
    url: str
    types: list[str]
    mode: str
    description: str | None
    sealed_secret: str
    sealed_previous_secret: str | None
    previous_secret_until: datetime | None
    created_at: datetime
    created_by: str
    disabled_at: datetime | None
    disabled_reason: str | None
    position: int
    failures: int
    failing_since: datetime | None
    due_at: datetime

    @property
    def enabled(self) -> bool:
        """Whether anything is sent."""
        return self.disabled_at is None

    @property
    def next_attempt_at(self) -> datetime | None:
        """When a failing one is tried again."""
        return self.due_at if self.failing_since is not None and self.enabled else None

    def valid_secrets(self, at: datetime) -> list[str]:
        """The sealed secrets that sign now, the newest first."""
        overlapping = self.previous_secret_until is not None and at < self.previous_secret_until
        previous = self.sealed_previous_secret if overlapping else None
        return [self.sealed_secret, *([previous] if previous else [])]


@dataclass(frozen=True, slots=True)
class Attempt:
    """One delivery that was tried."""

    id: int
    message_id: str
    event_type: str
    attempted_at: datetime
    status: int | None
    error: str | None
    duration_s: float
    excerpt: str


def _with_live_cursor(work: Work) -> sa.Select[Any]:
    live = webhook_cursors
    joined = webhooks.join(live, (live.c.webhook_id == webhooks.c.id) & (live.c.kind == "live"))
    columns = (live.c.position, live.c.failures, live.c.failing_since, live.c.due_at)
    return work.select(webhooks, *webhooks.c, *columns).select_from(joined)


def by_id(work: Work, webhook_id: int) -> Webhook | None:
    """The subscription of that id."""
    return work.one(_with_live_cursor(work).where(webhooks.c.id == webhook_id), Webhook)


def page(work: Work, request: PageRequest) -> Page[Webhook]:
    """Subscriptions, oldest first."""
    return fetch_page(work, _with_live_cursor(work), webhooks.c.id, Webhook, request)


def insert(work: Work, *, at: datetime, position: int, **values: Any) -> int:
    """A subscription whose first event is the one after ``position``; answers its id."""
    webhook_id = work.insert(webhooks, created_at=at, **values)
    add_cursor(work, webhook_id, kind="live", position=position, last_event_id=None, at=at)
    return webhook_id


def change(work: Work, webhook_id: int, **values: Any) -> None:
    """Set columns of a subscription."""
    work.update(webhooks, webhooks.c.id == webhook_id, **values)


def delete(work: Work, webhook_id: int) -> bool:
    """Remove a subscription with its cursors and its log; false when there is none."""
    for table in (webhook_cursors, webhook_attempts):
        work.delete(table, table.c.webhook_id == webhook_id)
    return work.delete(webhooks, webhooks.c.id == webhook_id) == 1


def add_cursor(
    work: Work, webhook_id: int, *, kind: str, position: int, last_event_id: int | None, at: datetime
) -> int:
    """A place in the events from which a subscription is served; answers its id."""
    return work.insert(
        webhook_cursors,
        webhook_id=webhook_id,
        kind=kind,
        position=position,
        last_event_id=last_event_id,
        due_at=at,
        created_at=at,
    )


def move_live_cursor(work: Work, webhook_id: int, **values: Any) -> None:
    """Set columns of the live cursor; whoever holds a lease on it loses it."""
    mine = (webhook_cursors.c.webhook_id == webhook_id, webhook_cursors.c.kind == "live")
    work.update(webhook_cursors, *mine, lease=None, leased_until=None, **values)


def replaying(work: Work, webhook_id: int) -> bool:
    """Whether a replay is still under way."""
    found = work.select(webhook_cursors, sa.func.count()).where(
        webhook_cursors.c.webhook_id == webhook_id, webhook_cursors.c.kind == "replay"
    )
    return bool(work.connection.execute(found).scalar_one())


def span(work: Work, types: Sequence[str], start: datetime, end: datetime) -> tuple[int, int, int]:
    """The position before the first event from ``start``, the id of the last before ``end``, and how many."""
    found = work.select(
        events,
        sa.func.coalesce(sa.func.min(events.c.id) - 1, 0),
        sa.func.coalesce(sa.func.max(events.c.id), 0),
        sa.func.count(),
    ).where(events.c.at >= start, events.c.at < end, events.c.type.in_(types))
    before, last, count = work.connection.execute(found).one()
    return int(before), int(last), int(count)


def log(work: Work, webhook_id: int, **values: Any) -> None:
    """Note an attempt."""
    work.insert(webhook_attempts, webhook_id=webhook_id, **values)


def attempts(work: Work, request: PageRequest, webhook_id: int) -> Page[Attempt]:
    """The delivery log of a subscription, newest first."""
    statement = work.select(webhook_attempts).where(webhook_attempts.c.webhook_id == webhook_id)
    return fetch_page(work, statement, webhook_attempts.c.id, Attempt, request, newest_first=True)
