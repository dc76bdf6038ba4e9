"""Where the worker is put together: the only place that picks real parts, starts threads and handles signals."""

from __future__ import annotations

import json
import secrets
import signal
import sqlite3
import threading
import time
from pathlib import Path
from types import FrameType
from typing import Any

import structlog

from ingest.runtime.host_clock import HostClock
from ingest.runtime.journal import TakenOver, open_journal
from ingest.runtime.leader_lock import BEAT_S, LeaderLock, wait_for_turn
from ingest.runtime.periodic_task import PeriodicTask
from ingest.runtime.settings import Settings
from ingest.runtime.worker import Worker, post_waiting
from ingest.sessions.pipeline import Pipeline
from ingest.wire.http import Service
from ingest.wire.mqtt import Listener
from ingest.wire.translator import Translator

log = structlog.get_logger(__name__)

STATUS_EVERY_S = 2.0
CLOCK = "clock"
"""Under this name the file keeps what the worker believes of the machine's clock."""
EXIT_OK, EXIT_FAILED, EXIT_TAKEN_OVER = 0, 1, 3


def database_path(settings: Settings) -> Path:
    """Return where the worker's SQLite file is."""
    return settings.data / "worker.sqlite"


def boot() -> str:
    """Return what names this boot of the machine; a word that never recurs where the system does not tell."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        return secrets.token_hex(8)


def steady() -> float:
    """Return seconds since the machine started, sleep included where the system tells it."""
    return time.clock_gettime(getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC))


def host_clock(kept: str | None) -> HostClock:
    """Return the worker's clock, as the last worker on this boot of the machine believed it."""
    name, _, offset_s = (kept or "").partition(" ")
    return HostClock(time.time, steady, float(offset_s) if offset_s and name == boot() else None)


class Running:
    """A worker with its threads.

    Parameters
    ----------
    settings : Settings
        The worker's settings.
    stop_asked : Event or None
        Set when it should stop; one of its own if None.
    leader_lock : LeaderLock or None
        The lock of the data folder, which a standby has by now.
    """

    def __init__(
        self,
        settings: Settings,
        stop_asked: threading.Event | None = None,
        leader_lock: LeaderLock | None = None,
    ) -> None:
        self.settings = settings
        settings.data.mkdir(parents=True, exist_ok=True)
        journal, aside = open_journal(database_path(settings))
        self.pipeline = Pipeline(settings.settling)
        if aside is not None:
            log.error("the inbox was corrupt and was put aside", file=str(aside))
            self.pipeline.counts["inbox-corrupt"] += 1
        self.clock = host_clock(journal.fact(CLOCK))
        foreign = Translator(settings.mappings, settings.broker.places).filters()
        self.listener = Listener(settings.broker, self.clock, foreign)
        self.worker = Worker(settings, self.pipeline, journal, self.listener, self.clock)
        self.stop_asked = stop_asked or threading.Event()
        self.worker.stopping = self.stop_asked.is_set  # type: ignore[method-assign]
        self.leader_lock = leader_lock or LeaderLock(settings.data)
        self.service = Service(settings.service_url, settings.worker_token)
        self.etag: str | None = None
        self.mappings_etag: str | None = None
        self.live_dropped = 0
        self.live_ready: dict[str, Any] | None = None
        self.tasks = (
            PeriodicTask("hookups", settings.poll_s, self._poll_hookups),
            PeriodicTask("mappings", settings.poll_s, self._poll_mappings),
            PeriodicTask("pairs", 0.2, self._post_pairs),
            PeriodicTask("live", settings.live_s, self._put_live),
            PeriodicTask("beat", BEAT_S, self.leader_lock.beat),
        )
        self.last_status: dict[str, Any] = {}
        self._status_s = 0.0
        self._live_s = 0.0
        self._clock_kept: str | None = None

    def _poll_hookups(self) -> None:
        answer = self.service.hookups(self.etag)
        if answer is None:
            return
        self.etag = answer.etag
        ours = answer.of_places(self.settings.broker.places)
        self.worker.new_hookups.put((ours.parsed(), json.dumps(ours.items)))

    def _poll_mappings(self) -> None:
        answer = self.service.mappings(self.mappings_etag)
        if answer is not None:
            self.mappings_etag = answer.etag
            self.worker.new_mappings.put(answer)

    def _post_pairs(self) -> None:
        post_waiting(self.worker, self.service.post_pair, self.stop_asked.is_set)

    def _put_live(self) -> None:
        body, self.live_ready = self.live_ready, None
        if body is None:
            return
        refused = self.service.put_live(body)
        if refused is None:
            self.pipeline.counts["live-dropped"] += 1
        else:
            self.pipeline.counts["live-refused"] += len(refused)

    def run(self) -> int:
        """Run until asked to stop; returns the exit code."""
        try:
            self.worker.restore()
        except sqlite3.Error as error:
            log.error("the inbox cannot be written", error=str(error))
            return EXIT_FAILED
        self.listener.start()
        if self.settings.metrics_port:
            # Here, since a standby that takes over should not wait for what it may not need.
            from ingest.runtime.metrics import serve

            serve(self.settings.metrics_port, self.settings.metrics_bind, lambda: self.last_status)
        for task in self.tasks:
            task.start()
        try:
            return self._loop()
        except TakenOver:
            log.error("another worker has taken over; stopping")
            return EXIT_TAKEN_OVER
        except sqlite3.Error as error:
            log.error(
                "stopped while the inbox could not be written; what came last is still the broker's",
                error=str(error),
            )
            return EXIT_FAILED
        finally:
            for task in self.tasks:
                task.stop()
            self.listener.stop()

    def _loop(self) -> int:
        turned = time.monotonic()
        while not self.stop_asked.is_set():
            self.worker.turn()
            turned, slept_s = time.monotonic(), time.monotonic() - turned
            if self._lost_while_frozen(slept_s):
                raise TakenOver
            self._keep_clock()
            self._offer_live()
            self._tell_status()
            if self.listener.taken_over:
                raise TakenOver
            if self.listener.refused_for_good:
                log.error("the broker does not let the worker in", reason=self.listener.refused_for_good)
                return EXIT_FAILED
            dead = [task.name for task in self.tasks if not task.is_alive()]
            if dead or not self.listener.alive:
                log.error("a thread has ended", threads=dead or ["mqtt"])
                return EXIT_FAILED
        return self._drain()

    def _lost_while_frozen(self, slept_s: float) -> bool:
        """Whether an owner stood still for longer than its broker waits: its session is another's by now."""
        broker = self.settings.broker
        return broker.owns and slept_s > 1.5 * broker.keepalive_s and self.worker.disk_error is None

    def _drain(self) -> int:
        """Stop taking, keep what is in hand, let the pairs go, all within the set time."""
        until = time.monotonic() + self.settings.drain_s
        left = self.listener.packs.qsize()
        while left > 0 and time.monotonic() < until:
            left -= self.worker.turn()
        self.worker.checkpoint_all()
        log.info("stopped", outbox=self.worker.journal.outbox_counts())
        self._tell_status(force=True)
        return EXIT_OK

    def _keep_clock(self) -> None:
        """Look at the machine's clock, and have the next worker on this boot go on with what this one believes."""
        was_in_doubt = self.clock.in_doubt
        self.clock.look()
        if self.clock.in_doubt and not was_in_doubt:
            log.warning("the machine's clock was set; the readings decide", step_s=round(self.clock.step_s))
            self.pipeline.counts["clock-set"] += 1
        told = f"{boot()} {self.clock.offset_s:.0f}"
        if told != self._clock_kept:
            self._clock_kept = told
            self.worker.keep_fact(CLOCK, told)

    def _offer_live(self) -> None:
        now = time.monotonic()
        if now - self._live_s >= self.settings.live_s and self.live_ready is None:
            self._live_s = now
            self.live_ready = self.worker.live()

    def _tell_status(self, *, force: bool = False) -> None:
        now = time.monotonic()
        if now - self._status_s < STATUS_EVERY_S and not force:
            return
        self._status_s = now
        self.last_status = self.worker.status()
        try:
            path = self.settings.data / "status.json"
            fresh = path.with_suffix(".new")
            fresh.write_text(json.dumps(self.last_status))
            fresh.replace(path)
        except OSError as error:
            log.warning("the status file cannot be written", error=str(error))


def run(settings: Settings) -> int:
    """Run a worker in this process until SIGTERM or SIGINT; returns the exit code."""
    stop_asked = threading.Event()

    def stop(_signal: int, _frame: FrameType | None) -> None:
        stop_asked.set()

    before = {number: signal.signal(number, stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        leader_lock = LeaderLock(settings.data)
        if settings.standby and not wait_for_turn(leader_lock, stop_asked.is_set):
            return EXIT_OK
        running = Running(settings, stop_asked, leader_lock)
    except (sqlite3.Error, OSError) as error:
        log.error("the worker's folder cannot be used", folder=str(settings.data), error=str(error))
        return EXIT_FAILED
    else:
        return running.run()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
