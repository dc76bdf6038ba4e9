"""Messages that gateways posted to the service: fetched in order, let go of when they are in the worker's own file."""

from __future__ import annotations

import base64
import queue
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import structlog

from ingest.wire.hookup import seconds
from ingest.wire.http import Service
from ingest.wire.mqtt import Pack

log = structlog.get_logger(__name__)

MOST_AT_ONCE = 100


class PostedMessages:
    """Takes what waits at the service into the worker's queue, one batch at a time.

    Parameters
    ----------
    service : Service
        The service.
    places : tuple of str
        Places that this worker owns; none means all.
    packs : SimpleQueue
        The worker's queue.
    clock : callable
        Steady clock, [s].
    every_s : float
        Pause between two looks while nothing comes, [s].
    """

    def __init__(
        self,
        service: Service,
        places: tuple[str, ...],
        packs: queue.SimpleQueue[Pack],
        clock: Callable[[], float],
        every_s: float,
    ) -> None:
        self.service, self.places, self.packs = service, places, packs
        self.clock, self.every_s = clock, every_s
        self.stored: queue.SimpleQueue[int] = queue.SimpleQueue()
        self._in_hand: set[int] = set()
        self._done: set[int] = set()
        self._next_s = 0.0

    def kept(self, packs: Iterable[Pack]) -> None:
        """Note, from the worker's loop, what is in its file now."""
        for pack in packs:
            if pack.posted:
                self.stored.put(pack.posted)

    def round(self) -> None:
        """Let go of what is stored, then fetch what came since; raises requests.RequestException."""
        try:
            while True:
                self._done.add(self.stored.get_nowait())
        except queue.Empty:
            pass
        if self._done:
            self.service.let_go(sorted(self._done))
            self._in_hand -= self._done
            self._done.clear()
            self._next_s = 0.0
        if self._in_hand or self.clock() < self._next_s:
            return
        self._next_s = self.clock() + self.every_s
        for item in self.service.messages(self.places, MOST_AT_ONCE):
            self._take(item)

    def _take(self, item: Mapping[str, Any]) -> None:
        try:
            pack = _pack(item)
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            log.error("message.unreadable", message=str(item)[:200], error=repr(error))
            return
        self._in_hand.add(pack.posted)
        self.packs.put(pack)


def _pack(item: Mapping[str, Any]) -> Pack:
    return Pack(
        mid=0,
        qos=0,
        place=str(item["place"]),
        device=str(item["device"]) if not item["topic"] else "",
        payload=base64.b64decode(item["payload_base64"], validate=True),
        retained=False,
        arrival_s=seconds(item["received_at"]),
        topic=str(item["topic"] or ""),
        mapping=str(item["mapping"] or ""),
        posted=int(item["id"]),
    )
