"""Thinning what is shown and never evidence: live values, traces, answers to keys, delivery logs."""

from contextlib import AbstractContextManager
from datetime import datetime
from typing import Any, Protocol

import sqlalchemy as sa

from service.store.tables import heartbeats, hookups, live, trace, webhook_attempts

QUIET_DAYS = 3


class Transactions(Protocol):
    """Opens one transaction after another."""

    def __call__(self) -> AbstractContextManager[sa.Connection]:
        """Open the next."""
        ...


def thin_trace(opened: Transactions, before: datetime, span_s: int) -> int:
    """
    Keep one point a span of each hookup's trace before a moment; answers how many went.

    Day by day backwards over the days that have points, a transaction each, so that no writer waits long; it
    stops after three of them in a row that were thin already.
    """
    removed, quiet = 0, 0
    end = _midnight(before)
    while quiet < QUIET_DAYS:
        with opened() as connection:
            newest = connection.execute(
                sa.select(sa.func.max(trace.c.at)).where(trace.c.at < end)
            ).scalar_one()
            if newest is None:
                break
            begin = _midnight(newest)
            gone = _thin(connection, begin, end, span_s)
        removed += gone
        quiet = 0 if gone else quiet + 1
        end = begin
    return removed


def _midnight(at: datetime) -> datetime:
    return at.replace(hour=0, minute=0, second=0, microsecond=0)


def _thin(connection: sa.Connection, begin: datetime, end: datetime, span_s: int) -> int:
    inside = (trace.c.at >= begin, trace.c.at < end)
    kept = (
        sa.select(sa.func.min(trace.c.id))
        .where(*inside)
        .group_by(trace.c.hookup_id, _span(connection, span_s))
    )
    return _gone(connection, sa.delete(trace).where(*inside, trace.c.id.not_in(kept)))


def _span(connection: sa.Connection, span_s: int) -> sa.ColumnElement[Any]:
    """The number of a point's span since the epoch."""
    if connection.dialect.name == "postgresql":
        return sa.func.floor(sa.extract("epoch", trace.c.at) / float(span_s))
    return sa.cast(sa.func.strftime("%s", trace.c.at), sa.Integer) // span_s


def drop_trace(connection: sa.Connection, before: datetime) -> int:
    """Forget traces altogether."""
    return _gone(connection, sa.delete(trace).where(trace.c.at < before))


def drop_ended_live(connection: sa.Connection, before: datetime) -> int:
    """Forget the last live values of hookups that ended before a moment."""
    ended = sa.select(hookups.c.id).where(hookups.c.to_at < before)
    return _gone(connection, sa.delete(live).where(live.c.hookup_id.in_(ended)))


def drop_attempts(connection: sa.Connection, before: datetime) -> int:
    """Forget what was delivered; that it was is in the cursor."""
    return _gone(connection, sa.delete(webhook_attempts).where(webhook_attempts.c.attempted_at < before))


def drop_heartbeats(connection: sa.Connection, before: datetime) -> int:
    """Forget processes that are long gone."""
    return _gone(connection, sa.delete(heartbeats).where(heartbeats.c.at < before))


def _gone(connection: sa.Connection, statement: sa.Delete) -> int:
    return int(connection.execute(statement).rowcount)
