"""Following events as they happen, from the event table: one poll a process wakes every open stream."""

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

from service.operations.support.context import Actor, Services
from service.operations.support.events import sight_of
from service.store import events, live
from service.store.events import Event
from service.store.live import Live

POLL_S = 0.5
HEARTBEAT_S = 15.0
ASKED_AGAIN_S = 10.0
"""A stream whose listener is shut out ends within this and a heartbeat."""


@dataclass(frozen=True, slots=True)
class Beat:
    """Nothing happened for a while; says that the line is open."""


Item = Event | Live | Beat


def as_long_as(allowed: Callable[[], bool], seconds: float) -> Callable[[], bool]:
    """
    When a stream is over: `until` of ``follow``.

    Parameters
    ----------
    allowed
        Whether the listener may still listen; asked every ten seconds.
    seconds
        It ends after so long in any case [s].
    """
    ends_at = time.monotonic() + seconds
    ask_at = time.monotonic() + ASKED_AGAIN_S

    def over() -> bool:
        nonlocal ask_at
        now = time.monotonic()
        if now < ask_at:
            return now > ends_at
        ask_at = now + ASKED_AGAIN_S
        return now > ends_at or not allowed()

    return over


class Tail:
    """
    Watches the event table and the live values for all streams of one process.

    Parameters
    ----------
    services
        Whose database is watched.

    Notes
    -----
    The thread starts with the first stream, so that it lives in the process that serves and not in the one
    that forked it, and ends when nobody listens.
    """

    def __init__(self, services: Services) -> None:
        self._services = services
        self._changed = threading.Condition()
        self._marks: dict[int, tuple[int, datetime | None]] = {}
        self._held: Counter[tuple[int, str]] = Counter()
        self._thread: threading.Thread | None = None

    @property
    def listeners(self) -> int:
        """Streams open now."""
        return self._held.total()

    def held_by(self, actor: Actor) -> int:
        """Streams that this listener has open."""
        return self._held[_listener(actor)]

    def join(self, actor: Actor, cap: int, share: int) -> bool:
        """Take a place for one stream; false when all are taken, or all of one listener's share."""
        with self._changed:
            if self.listeners >= cap or self.held_by(actor) >= share:
                return False
            self._held[_listener(actor)] += 1
            if self._thread is None or not self._thread.is_alive():
                self._thread = threading.Thread(target=self._watch, name="event-tail", daemon=True)
                self._thread.start()
            return True

    def leave(self, actor: Actor) -> None:
        """Give the place back."""
        with self._changed:
            self._held[_listener(actor)] -= 1
            self._held += Counter()  # without those who hold none

    def wait(self, organisation_id: int, seen: tuple[int, datetime | None], timeout_s: float) -> bool:
        """Sleep until there is more than was seen; false when the time is up first."""
        with self._changed:
            return self._changed.wait_for(
                lambda: self._marks.get(organisation_id, seen) != seen, timeout=timeout_s
            )

    def mark(self, organisation_id: int) -> tuple[int, datetime | None]:
        """The newest of an organisation, as last polled."""
        with self._changed:
            return self._marks.get(organisation_id, (0, None))

    def _watch(self) -> None:
        idle = threading.Event()
        while True:
            with self._changed:
                if self.listeners == 0:
                    self._thread = None
                    return
            with self._services.database.engine.connect() as connection:
                newest, received = events.newest_ids(connection), live.newest_received(connection)
            marks = {o: (newest.get(o, 0), received.get(o)) for o in newest.keys() | received.keys()}
            with self._changed:
                if marks != self._marks:
                    self._marks = marks
                    self._changed.notify_all()
            idle.wait(POLL_S)


def _listener(actor: Actor) -> tuple[int, str]:
    return actor.organisation_id, actor.name


def follow(
    services: Services,
    tail: Tail,
    actor: Actor,
    last_id: int,
    *,
    until: Callable[[], bool],
    heartbeat_s: float = HEARTBEAT_S,
    live_since: datetime | None = None,
) -> Iterator[Item]:
    """
    Events after an id for as long as wanted, with live values between and beats when it is quiet.

    Parameters
    ----------
    services, tail, actor
        What may be used, the process's tail (joined already), who listens.
    last_id
        The last event seen; everything after it is replayed.
    until
        Whether to stop; asked at every turn.
    heartbeat_s
        Longest silence [s].
    live_since
        Live values received after it are told too; from now on where it is not given.

    Yields
    ------
    Event, Live or Beat
        Events in order, none missed; of live values only the newest.
    """
    live_since = live_since or services.now()
    while not until():
        mark = tail.mark(actor.organisation_id)
        with services.database.reading(actor.organisation_id) as work:
            told = events.since(work, last_id, sight=sight_of(actor))
            values = live.received_since(work, live_since, at_places=actor.places)
        yield from told
        yield from values
        last_id = told[-1].id if told else last_id
        live_since = max((value.received_at for value in values), default=live_since)
        if not told and not values and not tail.wait(actor.organisation_id, mark, heartbeat_s):
            yield Beat()
