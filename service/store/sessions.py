"""Queries for sessions at the board; looking one up by digest is a read that no organisation scopes."""

from datetime import datetime

import sqlalchemy as sa

from service.store.people import Person
from service.store.tables import people, sessions
from service.store.work import Work, as_record


def begin(work: Work, person: Person, digest: str, at: datetime) -> None:
    """A new session of a person."""
    values = {"digest": digest, "epoch": person.session_epoch, "began_at": at}
    work.insert(sessions, person_id=person.id, **values)


def person_of(connection: sa.Connection, digest: str, begun_after: datetime) -> Person | None:
    """Whose session it is, unless it has ended: by itself, with its time, or with the person's right to sign in."""
    statement = (
        sa.select(people)
        .join(sessions, sessions.c.person_id == people.c.id)
        .where(
            sessions.c.digest == digest,
            sessions.c.ended_at.is_(None),
            sessions.c.began_at > begun_after,
            sessions.c.epoch == people.c.session_epoch,
            people.c.disabled_at.is_(None),
        )
    )
    row = connection.execute(statement).mappings().one_or_none()
    return None if row is None else as_record(row, Person)


def end(connection: sa.Connection, digest: str, at: datetime) -> None:
    """End a session."""
    connection.execute(
        sa.update(sessions)
        .where(sessions.c.digest == digest, sessions.c.ended_at.is_(None))
        .values(ended_at=at)
    )


def forget_before(connection: sa.Connection, before: datetime) -> int:
    """Forget sessions that began before a moment; answers how many."""
    return int(connection.execute(sa.delete(sessions).where(sessions.c.began_at < before)).rowcount)
