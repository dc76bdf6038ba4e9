"""What the worker's process does over and over beside its loop, each in a thread of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable

import requests
import structlog

log = structlog.get_logger(__name__)


class PeriodicTask(threading.Thread):
    """A thread that does one thing over and over; an error is logged and waited out.

    Parameters
    ----------
    name : str
        For the log and the status.
    every_s : float
        Pause between two rounds, [s].
    round_ : callable
        What it does.
    """

    def __init__(self, name: str, every_s: float, round_: Callable[[], None]) -> None:
        super().__init__(name=name, daemon=True)
        self.every_s = every_s
        self.round = round_
        self.stopping = threading.Event()
        self.wake = threading.Event()

    def run(self) -> None:
        """Go round until stopped."""
        while not self.stopping.is_set():
            try:
                self.round()
            except requests.RequestException as error:
                log.warning("service.unreachable", task=self.name, error=str(error)[:200])
            except Exception:
                log.exception("task.failed", task=self.name)
            self.wake.wait(self.every_s)
            self.wake.clear()

    def stop(self) -> None:
        """Ask it to stop after the round in hand."""
        self.stopping.set()
        self.wake.set()
