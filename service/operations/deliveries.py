"""Deliver events to subscriptions, at least once and in order, from the events table as the outbox.

An event is committed with the change it tells of; a cursor moves past it only when its receiver has accepted
it. Whatever is killed in between, the next round begins at the cursor again: a repeat carries the same id.
"""

import sys
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime, timedelta

import structlog

from service.codes import AlarmCode, Severity
from service.measures import ATTEMPT_SECONDS, ATTEMPTS, DELIVERY_LAG_SECONDS
from service.operations import webhooks as subscriptions
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import ALARM_RAISED, PUBLIC_TYPES
from service.outbound.cloudevents import CloudEvent, ContentMode
from service.outbound.sender import Line, Outcome
from service.store import alarms, cursors, events, webhooks
from service.store.cursors import Cursor
from service.store.events import Event
from service.store.webhooks import Webhook
from service.store.work import Work, batched

LEASES_PER_ATTEMPT = 3
"""A lease outlives the longest attempt three times; a deliverer that died delays its cursors by this much."""
BATCH = 50
BATCHES = 40
"""Events are read so many at once, and so often on one connection, before others have their turn."""
CONCURRENT = 16

log = structlog.get_logger(__name__)


class Deliverer:
    """
    One of any number of deliverers; leases keep them from serving the same cursor.

    Parameters
    ----------
    services
        What may be used.
    holder
        Names this deliverer in leases; unique among those that run.
    jitter
        Uniform in [0, 1).
    stopping
        Asked between attempts; true ends a round early with everything accepted so far kept.
    """

    def __init__(
        self,
        services: Services,
        holder: str,
        jitter: Callable[[], float],
        stopping: Callable[[], bool] = lambda: False,
    ) -> None:
        self._services = services
        self._holder = holder
        self._jitter = jitter
        self._stopping = stopping
        self._busy: set[int] = set()
        self._lock = threading.Lock()
        self.lease = LEASES_PER_ATTEMPT * timedelta(seconds=services.post.sender.total_timeout_s)

    def round(self, pool: ThreadPoolExecutor) -> int:
        """
        Begin to serve every cursor that is due and not being served; answers how many were begun.

        Nobody waits for the slowest: a receiver that hangs keeps one thread, the others go on.
        """
        with self._lock:
            room = CONCURRENT - len(self._busy)
        if room <= 0 or self._stopping():
            return 0
        with self._services.database.engine.connect() as connection:
            waiting = cursors.due(connection, self._services.now(), PUBLIC_TYPES, CONCURRENT)
        with self._lock:
            fresh = [cursor for cursor in waiting if cursor.id not in self._busy][:room]
            self._busy.update(cursor.id for cursor in fresh)
        for cursor in fresh:
            pool.submit(self._serve, cursor)
        return len(fresh)

    def _serve(self, cursor: Cursor) -> None:
        try:
            held = None if self._stopping() else self._lease(cursor)
            if held is not None:
                self._work_off(held)
        except Exception:
            # The lease runs out by itself, and the cursor is taken up again where it stands.
            log.exception("webhook.cursor_not_served", webhook=cursor.webhook_id)
        finally:
            with self._lock:
                self._busy.discard(cursor.id)

    def _work_off(self, cursor: Cursor) -> None:
        with self._services.post.sender.line() as line:
            for _ in range(BATCHES):
                webhook, ahead, horizon = self._ahead(cursor)
                if webhook is None:
                    return
                reached = self._send(cursor, webhook, ahead, line)
                if reached is None:
                    self._let_go(cursor)
                    return
                cursor = reached
                if len(ahead) < BATCH:
                    self._let_go(cursor, horizon)
                    return
        self._let_go(cursor, cursor.position)

    def _ahead(self, cursor: Cursor) -> tuple[Webhook | None, list[Event], int]:
        """The subscription as it is now, its next events, and how far they were looked for."""
        with self._services.database.reading(cursor.organisation_id) as work:
            webhook = webhooks.by_id(work, cursor.webhook_id)
            # Read before the events: one that is committed in between is beyond the horizon, not passed by.
            horizon = min(events.newest_id(work), cursor.last_event_id or sys.maxsize)
            if webhook is None:
                return None, [], horizon
            return webhook, cursors.ahead(work, cursor, webhook.types, horizon, BATCH), horizon

    def _send(self, cursor: Cursor, webhook: Webhook, ahead: Sequence[Event], line: Line) -> Cursor | None:
        """Send events in order, message by message; the cursor behind the last one, or none when one failed."""
        for of_one in batched(ahead, ContentMode(webhook.mode).most):
            if self._stopping() or not self._deliver(cursor, webhook, of_one, line):
                return None
            cursor = replace(cursor, position=of_one[-1].id, failures=0, failing_since=None)
        return cursor

    def _deliver(self, cursor: Cursor, webhook: Webhook, ahead: Sequence[Event], line: Line) -> bool:
        """One attempt and what follows from it; true when the next message may go."""
        services = self._services
        at = services.now()
        sent = [as_cloudevent(event, services.post.source) for event in ahead]
        mode, secrets = ContentMode(webhook.mode), webhook.valid_secrets(at)
        outcome = services.post.send(webhook.url, secrets, mode, sent, at, line)
        done = services.now()
        _measure(ahead, outcome, done)
        with services.database.writing(cursor.organisation_id) as work:
            if outcome.accepted:
                moved = {"position": ahead[-1].id, "failures": 0, "failing_since": None, "due_at": done}
                held = cursors.move(work, cursor, self._holder, leased_until=done + self.lease, **moved)
            else:
                held = self._postpone(work, cursor, outcome, done)
            if held:
                subscriptions.note(work, webhook.id, sent, at, outcome)
            if held and not outcome.accepted:
                self._give_up(work, cursor, webhook, outcome, done)
        return held and outcome.accepted

    def _postpone(self, work: Work, cursor: Cursor, outcome: Outcome, at: datetime) -> bool:
        failures = cursor.failures + 1
        wait = self._services.post.backoff.delay(failures, self._jitter(), outcome.retry_after)
        since = cursor.failing_since or at
        return cursors.move(
            work, cursor, self._holder, failures=failures, failing_since=since, due_at=at + wait
        )

    def _give_up(self, work: Work, cursor: Cursor, webhook: Webhook, outcome: Outcome, at: datetime) -> None:
        since = cursor.failing_since or at
        if outcome.gone:
            reason = "The receiver answered 410: this endpoint is no more."
        elif self._services.post.backoff.exhausted(since, at):
            hours = self._services.post.backoff.give_up_after.total_seconds() / 3600
            reason = f"Nothing was accepted for {hours:g} hours; the last attempt: {outcome.error}."
        else:
            return
        webhooks.change(work, webhook.id, disabled_at=at, disabled_reason=reason[:200])
        text = f"Events no longer reach {webhook.url}. {reason} Mend the receiver, then enable it again."
        details = {"webhook": webhook.id}
        alarm = alarms.insert(
            work,
            code=AlarmCode.WEBHOOK_DISABLED,
            severity=Severity.WARNING,
            text=text,
            details=details,
            raised_at=at,
        )
        told = {
            "alarm": alarm,
            "code": AlarmCode.WEBHOOK_DISABLED,
            "severity": Severity.WARNING,
            "text": text,
            **details,
        }
        deliverer = Actor(cursor.organisation_id, "deliverer", "supervisor")
        tell(work, deliverer, at, ALARM_RAISED, f"webhooks/{webhook.id}", told)

    def _lease(self, cursor: Cursor) -> Cursor | None:
        at = self._services.now()
        with self._services.database.unowned() as connection:
            return cursors.lease(connection, cursor.id, at, self._holder, at + self.lease)

    def _let_go(self, cursor: Cursor, reached: int | None = None) -> None:
        """End the lease; ``reached`` passes events that nobody asked for, and a replay at its end is over."""
        with self._services.database.writing(cursor.organisation_id) as work:
            if reached is None:
                cursors.move(work, cursor, self._holder, lease=None, leased_until=None)
            elif cursor.last_event_id is not None and reached >= cursor.last_event_id:
                cursors.finish(work, cursor, self._holder)
            else:
                cursors.move(work, cursor, self._holder, position=reached, lease=None, leased_until=None)


def _measure(ahead: Sequence[Event], outcome: Outcome, done: datetime) -> None:
    answered = "unreachable" if outcome.status is None else "refused"
    ATTEMPTS.labels("accepted" if outcome.accepted else answered).inc()
    ATTEMPT_SECONDS.observe(outcome.duration_s)
    for event in ahead if outcome.accepted else ():
        DELIVERY_LAG_SECONDS.observe(max(0.0, (done - event.at).total_seconds()))


def as_cloudevent(event: Event, source: str) -> CloudEvent:
    """An event as other systems see it; who acted stays inside."""
    return CloudEvent(
        f"evt_{event.id}",
        f"{source}/organisations/{event.organisation_id}",
        event.type,
        event.at,
        event.data,
        event.subject,
        str(event.id),
    )
