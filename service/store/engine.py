"""One engine for SQLite and PostgreSQL; SQLite gets what it needs to be a server's database."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import event

BUSY_TIMEOUT_MS = 10_000


def make_engine(url: str) -> sa.Engine:
    """
    An engine whose write transactions do not read stale state.

    Parameters
    ----------
    url
        ``sqlite:///path`` or ``postgresql://user@host/name``; the psycopg driver is filled in.

    Returns
    -------
    sqlalchemy.Engine
        Connections are made on first use, so that server processes may fork before.
    """
    parsed = sa.make_url(url)
    if parsed.get_backend_name() == "postgresql":
        engine = sa.create_engine(
            parsed.set(drivername="postgresql+psycopg"), pool_size=10, max_overflow=20, pool_pre_ping=True
        )
        # Before the dialect asks the server for its version, which it cannot read then.
        event.listen(engine, "connect", _require_utf8, insert=True)
        return engine
    engine = sa.create_engine(parsed, pool_size=10, max_overflow=20)
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


class WrongEncoding(Exception):
    """A PostgreSQL database that cannot hold every text."""


def _require_utf8(connection: Any, _record: Any) -> None:
    """Refuse in words what would come to light as text that is no text: of SQL_ASCII the driver gives bytes."""
    encoding = connection.info.parameter_status("server_encoding")
    if encoding != "UTF8":
        wrong = WrongEncoding(
            f"its encoding is {encoding}, expected UTF8: make another with "
            "CREATE DATABASE name ENCODING 'UTF8' TEMPLATE template0, and restore a backup into it"
        )
        raise sa.exc.OperationalError(None, None, wrong)


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    # The driver's own transaction handling begins lazily and DEFERRED; ours begins in _begin_sqlite.
    connection.isolation_level = None
    # FULL: what was answered 201 outlives a power cut, because the worker then forgets it.
    for pragma in ("foreign_keys=ON", f"busy_timeout={BUSY_TIMEOUT_MS}", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: sa.Connection) -> None:
    # A transaction that reads first and writes later fails under WAL when another wrote in between: writers
    # take the lock at once.
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")
