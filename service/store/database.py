"""Transactions: a write is one unit of work that commits with its events, or leaves nothing behind."""

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from contextvars import ContextVar

import sqlalchemy as sa

from service.store.engine import make_engine
from service.store.work import Work

TURN_WITHIN_S = 10.0
"""Whoever waits longer for SQLite's one writer is told to come back, before all threads wait."""


class DatabaseBusy(Exception):
    """Somebody else has been writing for too long."""


UNAVAILABLE: tuple[type[Exception], ...] = (
    DatabaseBusy,
    sa.exc.OperationalError,
    sa.exc.InternalError,
    sa.exc.TimeoutError,
)
"""A disk that is full or read-only, a database that is locked or gone: nothing was kept, and later it may be."""

_joined: ContextVar[Work | None] = ContextVar("joined", default=None)
_view: ContextVar[Work | None] = ContextVar("view", default=None)


class Database:
    """
    Opens units of work on one database.

    Parameters
    ----------
    url
        SQLAlchemy URL, see ``make_engine``.
    """

    def __init__(self, url: str) -> None:
        self.engine = make_engine(url)
        self._writing_engine = self.engine.execution_options(writing=True)
        # One moment for all statements: under SQLite every transaction is so, PostgreSQL has to be told.
        postgres = self.engine.dialect.name == "postgresql"
        self._view_options = (
            {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True} if postgres else {}
        )
        # SQLite has one writer; threads that queue here do not spin on the file's lock.
        self._turn = threading.Lock() if self.engine.dialect.name == "sqlite" else None

    @contextmanager
    def reading(self, organisation_id: int) -> Iterator[Work]:
        """Reads of one organisation's rows; joins an open write of this thread, else an open view."""
        for outer in (_joined.get(), _view.get()):
            if outer is not None and outer.belongs_to(self.engine, organisation_id):
                yield outer
                return
        with self.engine.connect() as connection:
            yield Work(connection, organisation_id)

    @contextmanager
    def view(self, organisation_id: int) -> Iterator[None]:
        """
        All reads of one organisation within the block share one transaction: they see the same moment.

        For a page that is put together by several use cases. What is written within the block is not seen by them.
        """
        with self.engine.connect().execution_options(**self._view_options) as connection:
            token = _view.set(Work(connection, organisation_id))
            try:
                yield
            finally:
                _view.reset(token)

    @contextmanager
    def writing(self, organisation_id: int) -> Iterator[Work]:
        """
        A transaction that commits at the end of the block; the events recorded in it are written last.

        A block inside another of the same organisation and thread joins it, so that an answer stored under an
        idempotency key commits with the change that it reports.
        """
        outer = _joined.get()
        if outer is not None and outer.belongs_to(self.engine, organisation_id):
            yield outer
            return
        with (
            self._our_turn(),
            self._writing_engine.begin() as connection,
            _unit(connection, organisation_id) as work,
        ):
            yield work

    @contextmanager
    def founding(self, insert: Callable[[sa.Connection], int]) -> Iterator[Work]:
        """A transaction that begins by inserting an organisation, whose id ``insert`` answers; writes of it join."""
        turn, begun = self._our_turn(), self._writing_engine.begin()
        with turn, begun as connection, _unit(connection, insert(connection)) as work:
            yield work

    @contextmanager
    def unowned(self) -> Iterator[sa.Connection]:
        """A transaction over all organisations, for sign-in, first run, delivery and maintenance alone."""
        with self._our_turn(), self._writing_engine.begin() as connection:
            yield connection

    @contextmanager
    def _our_turn(self) -> Iterator[None]:
        if self._turn is None:
            yield
            return
        if not self._turn.acquire(timeout=TURN_WITHIN_S):
            raise DatabaseBusy(f"the database was busy for {TURN_WITHIN_S:.0f} s")
        try:
            yield
        finally:
            self._turn.release()

    def write_fault(self, within_s: float = 2.0) -> str | None:
        """Why nothing can be written now; none when it can. Asks SQLite for its lock, over a connection of its own."""
        url = self.engine.url
        if self._turn is None or not url.database:
            return None
        try:
            with closing(sqlite3.connect(url.database, timeout=within_s, isolation_level=None)) as connection:
                connection.execute("BEGIN IMMEDIATE")
                connection.execute("ROLLBACK")
        except sqlite3.Error as fault:
            return str(fault)
        return None

    def dispose(self) -> None:
        """Close every connection."""
        self.engine.dispose()


@contextmanager
def _unit(connection: sa.Connection, organisation_id: int) -> Iterator[Work]:
    work = Work(connection, organisation_id)
    token = _joined.set(work)
    try:
        yield work
        work.flush_events()
    finally:
        _joined.reset(token)
