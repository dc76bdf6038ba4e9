"""Posting what waits: pairs out of the worker's queue to the service, and back with what became of them."""

from __future__ import annotations

import queue
import random
from collections.abc import Callable
from dataclasses import dataclass

import structlog

from ingest.wire.retry import Decision, Parcel, decide

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Posted:
    """What became of one pair."""

    parcel: Parcel
    decision: Decision


def post_waiting(
    outgoing: queue.SimpleQueue[Parcel],
    posted: queue.SimpleQueue[Posted],
    post: Callable[[Parcel, float], Decision],
    stopped: Callable[[], bool],
) -> None:
    """Post what waits until the queue is empty or the worker stops."""
    while not stopped():
        try:
            parcel = outgoing.get(timeout=0.2)
        except queue.Empty:
            return
        spread = random.random()  # noqa: S311 - spreads retries
        try:
            decision = post(parcel, spread)
        except Exception as error:
            # Whatever went wrong, a parcel that was handed out must come back, or it would never go again.
            log.exception("pair.post_failed", key=parcel.key)
            decision = decide(None, parcel.attempts, repr(error), spread)
        posted.put(Posted(parcel, decision))
