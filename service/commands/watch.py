"""``heelmark watch``: what an installation does by itself, round after round, webhooks or none."""

import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import click
import structlog

from service.logs import configure_logs
from service.operations import (
    backups,
    certificate,
    health,
    idle,
    not_understood,
    overdue,
    rejudgements,
    retention,
)
from service.operations.support import attention
from service.operations.support.context import Services
from service.settings import load_settings

ROUND_EVERY_S = 60.0
LOOK_EVERY_S = 1.0
RETENTION_AGAIN_S = 3600.0
"""After retention began it is left alone for so long, however it ended."""

log = structlog.get_logger(__name__)


@click.command()
@click.option("--pulse", type=click.Path(dir_okay=False, path_type=Path), help="Touched every second.")
def watch(pulse: Path | None) -> None:
    """Raise what time alone makes due, once a minute, and forget every night what is not kept for good."""
    from service.wiring import wire

    configure_logs()
    services = wire(load_settings())
    stopping = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stopping.set())
    run(services, stopping, pulse)


def run(services: Services, stopping: threading.Event, pulse: Path | None = None) -> None:
    """
    Do a round a minute until told to stop; any number of these may run beside each other.

    A round that fails is logged and leaves no heartbeat, which turns readiness red; the next one comes in a minute.
    """

    def goes_on() -> bool:
        if pulse is not None:
            # Alive is also who cannot do anything: on a full disk another process could not either.
            with suppress(OSError):
                pulse.touch()
        return not stopping.is_set()

    nightly = _Nightly(services)
    next_round = 0.0
    log.info("watch.started")
    while goes_on():
        if time.monotonic() >= next_round:
            next_round = time.monotonic() + ROUND_EVERY_S
            _round(services, nightly, goes_on)
        stopping.wait(LOOK_EVERY_S)
    log.info("watch.stopped")


def _round(services: Services, nightly: "_Nightly", goes_on: Callable[[], bool]) -> None:
    try:
        attention.sweep(services, goes_on)
        idle.review(services)
        rejudgements.review_all(services, goes_on)
        backups.review(services)
        certificate.review(services)
        not_understood.review(services)
        overdue.review(services)
        if goes_on():
            health.beat(services, health.WATCH)
        nightly.look()
    except Exception:
        log.exception("watch.round_failed")


class _Nightly:
    """Retention in a thread of its own: it may take long, and no alarm waits for it."""

    def __init__(self, services: Services) -> None:
        self._services = services
        self._running: threading.Thread | None = None
        self._not_before = 0.0

    def look(self) -> None:
        """Begin it when it is due."""
        if self._running is not None and self._running.is_alive():
            return
        if time.monotonic() < self._not_before or not retention.is_due(self._services):
            return
        self._not_before = time.monotonic() + RETENTION_AGAIN_S
        # A daemon: it may be interrupted at any point, so a stop does not wait for it.
        self._running = threading.Thread(target=self._maintain, name="retention", daemon=True)
        self._running.start()

    def _maintain(self) -> None:
        try:
            removed = retention.maintain(self._services)
            log.info("retention.done", rows=sum(one.rows for one in removed))
        except Exception:
            log.exception("retention.failed")
