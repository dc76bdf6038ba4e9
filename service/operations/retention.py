"""What is kept for how long. Pairs, verdicts, transfers, exchanges and the log of events are kept for good."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa

from service.operations import people, personal_data
from service.operations.support.context import Services
from service.store import drafts, heartbeats, idempotency, retention, sessions

LIVE = timedelta(days=1)
FINE_TRACE = timedelta(hours=48)
COARSE_SPAN_S = 300
RECENT_TRACE = timedelta(days=30)
OLD_SPAN_S = 900
"""A cylinder's temperature follows its surroundings within an hour or more: a quarter of one shows a season."""
TRACE = timedelta(days=396)
"""13 months: the same season of last year can still be looked at."""
ATTEMPTS = timedelta(days=30)
KEYS = timedelta(days=31)
"""A worker in a van may be without a link for weeks; what it sends again then must still be known as a repeat."""
HEARTBEATS = timedelta(days=7)
DRAFTS = timedelta(days=30)
PROCESS = "retention"
NIGHT = range(2, 5)
"""Hours of the machine's clock in which it is done, unless the machine sleeps then."""
AT_MOST_EVERY = timedelta(hours=12)
AT_LEAST_EVERY = timedelta(hours=26)


@dataclass(frozen=True, slots=True)
class Removed:
    """How many rows of one kind went."""

    what: str
    rows: int


def is_due(services: Services) -> bool:
    """Whether it is night and it was not done lately, or it was not done for more than a day."""
    with services.database.engine.connect() as connection:
        last = heartbeats.last(connection, PROCESS)
    return last is None or due(services.now().astimezone(), last)


def due(at: datetime, last: datetime) -> bool:
    """The same of two moments; ``at`` is in the zone whose nights count."""
    age = at - last
    return age > AT_LEAST_EVERY or age < -AT_MOST_EVERY or (at.hour in NIGHT and age > AT_MOST_EVERY)


def maintain(services: Services) -> list[Removed]:
    """Do the day's housekeeping; may be repeated or interrupted at any point, and may run while all else does."""
    at = services.now()
    opened = services.database.unowned
    thinned = retention.thin_trace(opened, at - FINE_TRACE, COARSE_SPAN_S)
    steps: list[tuple[str, Callable[[sa.Connection, datetime], int], timedelta]] = [
        ("points of traces older than 13 months", retention.drop_trace, TRACE),
        ("live values of ended hookups", retention.drop_ended_live, LIVE),
        ("delivery attempts", retention.drop_attempts, ATTEMPTS),
        ("answers to idempotency keys", idempotency.forget_before, KEYS),
        ("heartbeats", retention.drop_heartbeats, HEARTBEATS),
        ("unfinished forms", drafts.forget_before, DRAFTS),
        ("sessions that are over", sessions.forget_before, people.LONGEST_SESSION),
    ]
    older = retention.thin_trace(opened, at - RECENT_TRACE, OLD_SPAN_S)
    done = [
        Removed("points of traces, thinned to one in five minutes", thinned),
        Removed("points of traces older than 30 days, thinned to one in fifteen", older),
    ]
    for what, step, age in steps:
        with opened() as connection:
            done.append(Removed(what, step(connection, at - age)))
    done.append(Removed("names in records past their time", personal_data.finish_erasures(services)))
    with opened() as connection:
        heartbeats.beat(connection, PROCESS, at)
    return done
