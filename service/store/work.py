"""One transaction of one organisation; every statement made here is scoped to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import cached_property
from typing import Any, ClassVar, Protocol, TypeVar

import sqlalchemy as sa

from service.store.tables import events, organisations


class Record(Protocol):
    """A frozen dataclass whose fields are named like the columns that it is read from."""

    __dataclass_fields__: ClassVar[dict[str, Any]]


R = TypeVar("R", bound=Record)
B = TypeVar("B")


@dataclass(frozen=True, slots=True)
class NewEvent:
    """Something that happened, before it has its number."""

    at: datetime
    type: str
    subject: str
    actor: str
    data: Mapping[str, Any]


class Work:
    """
    Statements on one connection, scoped to one organisation.

    Parameters
    ----------
    connection
        In a transaction that somebody else ends.
    organisation_id
        Whose rows are seen and written.
    """

    def __init__(self, connection: sa.Connection, organisation_id: int) -> None:
        self.connection = connection
        self.organisation_id = organisation_id
        self._events: list[NewEvent] = []
        self._at_commit: dict[object, AtCommit] = {}

    @property
    def time_zone(self) -> str:
        """The IANA name of the organisation's time zone."""
        return self._settings[0]

    @property
    def rule_book(self) -> str:
        """The rule book of places that have none of their own."""
        return self._settings[1]

    @cached_property
    def _settings(self) -> tuple[str, str]:
        """What holds for the whole organisation; read once a transaction."""
        wanted = sa.select(organisations.c.time_zone, organisations.c.rule_book)
        row = self.connection.execute(wanted.where(organisations.c.id == self.organisation_id)).one()
        return str(row[0]), str(row[1])

    def belongs_to(self, engine: sa.Engine, organisation_id: int) -> bool:
        """Whether a block for this database and organisation may join."""
        return self.connection.engine.url == engine.url and self.organisation_id == organisation_id

    def select(self, table: sa.Table, *columns: sa.ColumnElement[Any]) -> sa.Select[Any]:
        """Rows of this organisation; all columns unless some are named."""
        return sa.select(*(columns or (table,))).where(table.c.organisation_id == self.organisation_id)

    def insert(self, table: sa.Table, **values: Any) -> int:
        """One row of this organisation; answers its id."""
        owned = sa.insert(table).values(organisation_id=self.organisation_id, **values)
        return int(self.connection.execute(owned.returning(table.c.id)).scalar_one())

    def insert_many(self, table: sa.Table, rows: Sequence[Mapping[str, Any]]) -> None:
        """Many rows of this organisation in one statement."""
        if rows:
            owned = [{**row, "organisation_id": self.organisation_id} for row in rows]
            self.connection.execute(sa.insert(table), owned)

    def update(self, table: sa.Table, *where: sa.ColumnElement[bool], **values: Any) -> int:
        """Change rows of this organisation; answers how many."""
        scoped = sa.update(table).where(table.c.organisation_id == self.organisation_id, *where)
        return int(self.connection.execute(scoped.values(**values)).rowcount)

    def delete(self, table: sa.Table, *where: sa.ColumnElement[bool]) -> int:
        """Remove rows of this organisation; answers how many."""
        scoped = sa.delete(table).where(table.c.organisation_id == self.organisation_id, *where)
        return int(self.connection.execute(scoped).rowcount)

    def one(self, statement: sa.Select[Any], record: type[R]) -> R | None:
        """The only row, or none, as a record."""
        row = self.connection.execute(statement).mappings().one_or_none()
        return None if row is None else as_record(row, record)

    def all(self, statement: sa.Select[Any], record: type[R]) -> list[R]:
        """Every row as a record; further columns are left out."""
        # By position: looking each name up in each row takes longer than the database does.
        names = tuple(record.__dataclass_fields__)
        found = self.connection.execute(statement).columns(*names)
        return [record(**dict(zip(names, row, strict=True))) for row in found]

    def record(self, event: NewEvent) -> None:
        """Say that something happened; written with the commit."""
        self._events.append(event)

    def tell_at_commit(self, key: object, event: AtCommit) -> None:
        """Have an event made of how things stand when all is written; once for each key."""
        self._at_commit[key] = event

    def flush_events(self) -> None:
        """
        Number and write the events of this transaction, last those that tell how things stand in the end.

        Readers follow the events by increasing id. A sequence hands numbers out before the commit, so without
        the lock a later number could be seen before an earlier one, and the earlier one be skipped for ever.
        It is taken last and held for one insert.
        """
        actor = self._events[-1].actor if self._events else SERVICE
        self._events += [made for make in self._at_commit.values() if (made := make(self, actor)) is not None]
        self._at_commit.clear()
        if not self._events:
            return
        if self.connection.dialect.name == "postgresql":
            self.connection.execute(sa.select(sa.func.pg_advisory_xact_lock(EVENT_LOCK)))
        rows = [{name: getattr(event, name) for name in EVENT_COLUMNS} for event in self._events]
        self.insert_many(events, rows)
        self._events.clear()


AtCommit = Callable[[Work, str], NewEvent | None]
"""Makes an event at the end of a transaction, of who acted in it; None when there is nothing to tell."""
SERVICE = "service"
"""Who acted where no event says so."""
EVENT_LOCK = 0x4845454C  # "HEEL"
EVENT_COLUMNS = tuple(field.name for field in fields(NewEvent))


def batched(rows: Sequence[B], size: int = 500) -> Iterator[Sequence[B]]:
    """Slices small enough for the number of parameters that a statement may have."""
    for start in range(0, len(rows), size):
        yield rows[start : start + size]


def as_record(row: Mapping[Any, Any], record: type[R]) -> R:
    """A row's columns as the dataclass that names them; further columns are left out."""
    return record(**{name: row[name] for name in record.__dataclass_fields__})
