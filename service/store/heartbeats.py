"""Queries for the pulse of background processes."""

import hashlib
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.tables import heartbeats

EVERYWHERE = "*"
_WORKER = "worker"


@dataclass(frozen=True, slots=True)
class WorkerPulse:
    """Whose pulse it is: a worker's, known by its token, of one place or of several."""

    organisation_id: int
    token: str
    place: str

    @property
    def process(self) -> str:
        """The name that it is kept under."""
        digest = hashlib.sha256(self.token.encode()).hexdigest()[:8]
        return f"{_WORKER}|{self.organisation_id}|{digest}|{self.place}"


@dataclass(frozen=True, slots=True)
class Spoken:
    """When a worker of an organisation last spoke for a place, or for everywhere, and since when it has no broker."""

    organisation_id: int
    place: str
    at: datetime
    broker_lost_at: datetime | None


def beat(
    connection: sa.Connection, process: str, at: datetime, *, broker_lost_at: datetime | None = None
) -> None:
    """Note that a process is alive, and since when it has no broker where it needs one and has none."""
    insert = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    told = {"at": at, "broker_lost_at": broker_lost_at}
    statement = insert(heartbeats).values(process=process, **told)
    connection.execute(statement.on_conflict_do_update(index_elements=["process"], set_=told))


def last(connection: sa.Connection, process: str) -> datetime | None:
    """When a process was last alive."""
    statement = sa.select(heartbeats.c.at).where(heartbeats.c.process == process)
    found: datetime | None = connection.execute(statement).scalar_one_or_none()
    return found


def workers(connection: sa.Connection) -> list[Spoken]:
    """Every worker that has spoken within the time that heartbeats are kept."""
    statement = sa.select(heartbeats).where(heartbeats.c.process.startswith(f"{_WORKER}|"))
    return [_spoken(str(process), at, lost_at) for process, at, lost_at in connection.execute(statement)]


def _spoken(process: str, at: datetime, broker_lost_at: datetime | None) -> Spoken:
    _, organisation, _, place = process.split("|", 3)
    return Spoken(int(organisation), place, at, broker_lost_at)
