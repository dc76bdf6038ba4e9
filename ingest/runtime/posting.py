"""Pairs that wait go out, each with what became of it back to the worker's loop."""

from __future__ import annotations

import queue
import random
from collections.abc import Callable

import structlog

from ingest.runtime.worker import Posted, Worker
from ingest.wire.retry import Decision, Parcel, decide

log = structlog.get_logger(__name__)


def post_waiting(
    worker: Worker, post: Callable[[Parcel, float], Decision], stopped: Callable[[], bool]
) -> None:
    """Post what waits until the queue is empty or the worker stops."""
    while not stopped():
        try:
            parcel = worker.outgoing.get(timeout=0.2)
        except queue.Empty:
            return
        spread = random.random()  # noqa: S311 - spreads retries
        try:
            decision = post(parcel, spread)
        except Exception as error:
            # Whatever went wrong, a parcel that was handed out must come back, or it would never go again.
            log.exception("pair.post_failed", key=parcel.key)
            decision = decide(None, parcel.attempts, repr(error), spread)
        worker.posted.put(Posted(parcel, decision))
