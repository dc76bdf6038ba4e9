"""Transactions: a write is one unit of work that commits with its events, or leaves nothing behind."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

import sqlalchemy as sa

from service.store.engine import make_engine
from service.store.work import Work

_joined: ContextVar[Work | None] = ContextVar("joined", default=None)


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
        # SQLite has one writer; threads that queue here do not spin on the file's lock.
        self._turn = threading.Lock() if self.engine.dialect.name == "sqlite" else None

    @contextmanager
    def reading(self, organisation_id: int) -> Iterator[Work]:
        """Reads of one organisation's rows; joins an open write of this thread."""
        outer = _joined.get()
        if outer is not None and outer.belongs_to(self.engine, organisation_id):
            yield outer
            return
        with self.engine.connect() as connection:
            yield Work(connection, organisation_id)

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
        else:
            with self._turn:
                yield

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
