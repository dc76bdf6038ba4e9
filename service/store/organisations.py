"""Queries for organisations; they are above the scope that they define."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import organisations
from service.store.work import Work, as_record


@dataclass(frozen=True, slots=True)
class Organisation:
    """An owner of cylinders."""

    id: int
    name: str
    units: str
    region: str
    preferences: dict[str, Any] | None
    time_zone: str
    rule_book: str
    created_at: datetime


def by_name(connection: sa.Connection, name: str) -> Organisation | None:
    """The organisation of that name."""
    row = (
        connection.execute(sa.select(organisations).where(organisations.c.name == name))
        .mappings()
        .one_or_none()
    )
    return None if row is None else as_record(row, Organisation)


def by_id(connection: sa.Connection, organisation_id: int) -> Organisation | None:
    """The organisation of that id."""
    found = sa.select(organisations).where(organisations.c.id == organisation_id)
    row = connection.execute(found).mappings().one_or_none()
    return None if row is None else as_record(row, Organisation)


def ids(connection: sa.Connection) -> list[int]:
    """Every organisation."""
    return [int(one) for one in connection.scalars(sa.select(organisations.c.id))]


def insert(connection: sa.Connection, *, name: str, at: datetime, time_zone: str = "UTC") -> int:
    """A new organisation; answers its id."""
    values = {"name": name, "created_at": at, "time_zone": time_zone}
    made = sa.insert(organisations).values(**values).returning(organisations.c.id)
    return int(connection.execute(made).scalar_one())


def change(work: Work, **columns: str) -> None:
    """Change the organisation's own settings."""
    own = organisations.c.id == work.organisation_id
    work.connection.execute(sa.update(organisations).where(own).values(**columns))
