"""Queries for cylinders that wait to be judged again."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa

from service.store.tables import cylinders, pairs, rejudgements
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Rejudgement:
    """One cylinder that waits."""

    id: int
    cylinder_id: int
    alarm_id: int | None


def ask(
    work: Work,
    thermometer: str,
    gauge: str,
    *,
    alarm_id: int | None,
    at: datetime,
    besides: int | None = None,
    limit: int | None = None,
) -> None:
    """
    Let cylinders wait whose present contents a set has read, each once; an alarm takes over those that wait already.

    Parameters
    ----------
    work, thermometer, gauge
        The transaction, and the set.
    alarm_id
        The alarm that lists what comes of it, if one does.
    at
        Now.
    besides
        A cylinder that is left out.
    limit
        So many at most, those that were read last; all where none is stated.
    """
    own = (pairs.c.temperature_device == thermometer, pairs.c.pressure_device == gauge)
    present = (pairs.c.cylinder_id == cylinders.c.id) & (pairs.c.epoch == cylinders.c.epoch)
    joined = cylinders.join(pairs, present)
    read = work.select(cylinders, cylinders.c.id).select_from(joined).where(*own)
    if besides is not None:
        read = read.where(cylinders.c.id != besides)
    newest_first = read.group_by(cylinders.c.id).order_by(sa.func.max(pairs.c.id).desc()).limit(limit)
    ids = {int(one) for one in work.connection.execute(newest_first).scalars()}
    of_them = rejudgements.c.cylinder_id.in_(ids)
    if alarm_id is None:
        waiting = work.select(rejudgements, rejudgements.c.cylinder_id).where(of_them)
        ids -= set(work.connection.execute(waiting).scalars())
    else:
        work.delete(rejudgements, of_them, rejudgements.c.alarm_id.is_(None))
    rows = [{"cylinder_id": one, "alarm_id": alarm_id, "asked_at": at} for one in sorted(ids)]
    work.insert_many(rejudgements, rows)


def waiting(work: Work, limit: int) -> list[Rejudgement]:
    """Those that have waited longest."""
    statement = work.select(rejudgements).order_by(rejudgements.c.id).limit(limit)
    return work.all(statement, Rejudgement)


def done(work: Work, ids: Collection[int]) -> None:
    """They wait no longer."""
    work.delete(rejudgements, rejudgements.c.id.in_(ids))
