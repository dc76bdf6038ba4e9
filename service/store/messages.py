"""Queries for readings that came over HTTP and wait for the worker."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import messages
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Message:
    """Readings as they came."""

    id: int
    place: str
    device: str
    topic: str | None
    mapping: str | None
    payload: bytes
    received_at: datetime
    posted_by: str


def insert(work: Work, **values: Any) -> int:
    """Keep one; answers its id."""
    return work.insert(messages, **values)


def waiting(work: Work) -> int:
    """How many wait."""
    counted = work.select(messages, sa.func.count())
    return int(work.connection.execute(counted).scalar_one())


def oldest(work: Work, places: Collection[str], most: int) -> list[Message]:
    """Those that came first, of some places, or of all where none is named."""
    statement = work.select(messages)
    if places:
        statement = statement.where(messages.c.place.in_(places))
    return work.all(statement.order_by(messages.c.id).limit(most), Message)


def drop(work: Work, numbers: Collection[int]) -> int:
    """Let go of those that the worker has; answers how many there were."""
    return work.delete(messages, messages.c.id.in_(numbers))
