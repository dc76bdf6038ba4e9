"""Queries for answers already given to a key."""

from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.tables import idempotency
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Given:
    """A key with the digest of its request and, once committed, the answer."""

    digest: str
    status: int | None
    headers: str | None
    body: bytes | None


def claim(work: Work, key: str, digest: str, at: datetime) -> Given | None:
    """
    Take a key for this transaction, or answer what was given to it before.

    Another transaction that holds the same key is waited for: its row is seen when it commits, and the
    key becomes free when it rolls back.
    """
    insert = postgresql.insert if work.connection.dialect.name == "postgresql" else sqlite.insert
    statement = insert(idempotency).values(
        organisation_id=work.organisation_id, key=key, digest=digest, created_at=at
    )
    claimed = work.connection.execute(
        statement.on_conflict_do_nothing(index_elements=["organisation_id", "key"]).returning(
            idempotency.c.id
        )
    ).scalar_one_or_none()
    if claimed is not None:
        return None
    return by_key(work, key)


def by_key(work: Work, key: str) -> Given | None:
    """What was given to a key."""
    return work.one(work.select(idempotency).where(idempotency.c.key == key), Given)


def answer(work: Work, key: str, *, status: int, headers: str, body: bytes) -> None:
    """Keep the answer to a key that this transaction claimed."""
    work.update(idempotency, idempotency.c.key == key, status=status, headers=headers, body=body)


def forget_before(connection: sa.Connection, moment: datetime) -> int:
    """Drop keys older than any client retries."""
    return int(connection.execute(sa.delete(idempotency).where(idempotency.c.created_at < moment)).rowcount)
