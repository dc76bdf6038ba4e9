"""Queries for the pulse of background processes."""

from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.tables import heartbeats


def beat(connection: sa.Connection, process: str, at: datetime) -> None:
    """Note that a process is alive."""
    insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    statement = insert(heartbeats).values(process=process, at=at)
    connection.execute(statement.on_conflict_do_update(index_elements=["process"], set_={"at": at}))


def all_of(connection: sa.Connection) -> dict[str, datetime]:
    """When each process was last alive."""
    rows = connection.execute(sa.select(heartbeats.c.process, heartbeats.c.at))
    return {str(process): at for process, at in rows}


def forget(connection: sa.Connection, process: str) -> None:
    """A process was taken out of service on purpose."""
    connection.execute(sa.delete(heartbeats).where(heartbeats.c.process == process))
