"""Queries for cylinders that wait to be judged again."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from service.store.tables import cylinders, pairs, rejudgements
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Rejudgement:
    """One cylinder that waits."""

    id: int
    cylinder_id: int
    alarm_id: int | None


def ask(work: Work, thermometer: str, gauge: str, *, alarm_id: int | None, at: datetime) -> None:
    """Let every cylinder wait whose present contents a set has read."""
    own = (pairs.c.temperature_device == thermometer, pairs.c.pressure_device == gauge)
    present = (pairs.c.cylinder_id == cylinders.c.id) & (pairs.c.epoch == cylinders.c.epoch)
    read = (
        work.select(cylinders, cylinders.c.id)
        .select_from(cylinders.join(pairs, present))
        .where(*own)
        .distinct()
    )
    ids = [int(one) for one in work.connection.execute(read).scalars()]
    rows = [{"cylinder_id": one, "alarm_id": alarm_id, "asked_at": at} for one in sorted(ids)]
    work.insert_many(rejudgements, rows)


def waiting(work: Work, limit: int) -> list[Rejudgement]:
    """Those that have waited longest."""
    statement = work.select(rejudgements).order_by(rejudgements.c.id).limit(limit)
    return work.all(statement, Rejudgement)


def done(work: Work, ids: Collection[int]) -> None:
    """They wait no longer."""
    work.delete(rejudgements, rejudgements.c.id.in_(ids))
