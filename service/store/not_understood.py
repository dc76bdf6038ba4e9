"""Queries for what was heard and could not be read."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import not_understood
from service.store.work import Work

_REPLACED = ("place", "detail", "example", "partly", "last_seen_at", "topic", "message")


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Messages of one device or topic that the worker could not read for one reason."""

    id: int
    source: str
    reason: str
    place: str | None
    detail: str
    example: str
    partly: bool
    count: int
    first_seen_at: datetime
    last_seen_at: datetime
    topic: str | None
    message: Any


def note(work: Work, rows: Sequence[dict[str, Any]], new_spell_after: datetime) -> None:
    """Add messages to their rows; a row that was quiet since before `new_spell_after` begins again."""
    insert = postgresql.insert if work.connection.dialect.name == "postgresql" else sqlite.insert
    statement = insert(not_understood).values(
        [{**row, "organisation_id": work.organisation_id} for row in rows]
    )
    quiet = not_understood.c.last_seen_at < new_spell_after
    told = statement.excluded
    changed: dict[str, Any] = {name: told[name] for name in _REPLACED}
    changed["count"] = sa.case((quiet, told["count"]), else_=not_understood.c.count + told["count"])
    changed["first_seen_at"] = sa.case((quiet, told.first_seen_at), else_=not_understood.c.first_seen_at)
    key = ["organisation_id", "source", "reason"]
    work.connection.execute(statement.on_conflict_do_update(index_elements=key, set_=changed))


def keep_newest(work: Work, most: int) -> None:
    """Forget all but the `most` rows that were seen last."""
    oldest = work.select(not_understood, not_understood.c.id)
    oldest = oldest.order_by(not_understood.c.last_seen_at.desc(), not_understood.c.id.desc())
    work.delete(not_understood, not_understood.c.id.in_(oldest.offset(most).limit(10_000)))


def by_id(work: Work, number: int) -> NotUnderstood | None:
    """The one of that id."""
    return work.one(work.select(not_understood).where(not_understood.c.id == number), NotUnderstood)


def with_messages(work: Work) -> list[NotUnderstood]:
    """Those of which a decoded message is kept."""
    statement = work.select(not_understood).where(not_understood.c.message.is_not(None))
    return work.all(statement.where(not_understood.c.topic.is_not(None)), NotUnderstood)


def forget(work: Work, numbers: Collection[int]) -> None:
    """Forget some."""
    work.delete(not_understood, not_understood.c.id.in_(numbers))


def page(work: Work, request: PageRequest) -> Page[NotUnderstood]:
    """All of them, those noted first last."""
    statement = work.select(not_understood, *not_understood.c)
    return fetch_page(work, statement, not_understood.c.id, NotUnderstood, request, newest_first=True)


def since(work: Work, moment: datetime, most: int) -> list[NotUnderstood]:
    """Those that were seen since a moment, the last one first."""
    statement = work.select(not_understood, *not_understood.c).where(not_understood.c.last_seen_at >= moment)
    return work.all(statement.order_by(not_understood.c.last_seen_at.desc()).limit(most), NotUnderstood)
