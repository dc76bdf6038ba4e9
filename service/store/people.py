"""Queries for people; a login is looked up before the organisation is known."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import people
from service.store.work import Work, as_record


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who signs in at the board."""

    id: int
    organisation_id: int
    login: str
    name: str
    role: str
    password_hash: str | None
    session_epoch: int
    certification_number: str | None
    certification_type: str | None
    certification_organisation: str | None
    preferences: dict[str, Any] | None
    created_at: datetime
    last_seen_at: datetime | None
    disabled_at: datetime | None


def by_login(connection: sa.Connection, login: str) -> Person | None:
    """The person of that login, of whichever organisation."""
    row = connection.execute(sa.select(people).where(people.c.login == login)).mappings().one_or_none()
    return None if row is None else as_record(row, Person)


def by_id(work: Work, person_id: int) -> Person | None:
    """The person of that id."""
    return work.one(work.select(people).where(people.c.id == person_id), Person)


def listed(work: Work) -> list[Person]:
    """Every person of the organisation, by name."""
    return work.all(work.select(people).order_by(people.c.name, people.c.id), Person)


def insert(work: Work, *, at: datetime, **values: Any) -> int:
    """A new person; answers the id."""
    return work.insert(people, created_at=at, **values)


def change(work: Work, person_id: int, **values: Any) -> None:
    """Change columns of one person."""
    work.update(people, people.c.id == person_id, **values)
