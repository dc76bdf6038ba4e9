"""What the one-machine stack does by itself every night: make a backup."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from deploy.up.child import Child, ChildSpec

NIGHT = range(2, 5)
"""Local hours in which a chore is done, unless the machine sleeps then."""
AT_MOST_EVERY = timedelta(hours=12)
AT_LEAST_EVERY = timedelta(hours=26)
AGAIN_AFTER_S = 3600.0
LONGEST_S = 3600.0


@dataclass(slots=True)
class Chore:
    """A command that is due once a night.

    Parameters
    ----------
    spec : ChildSpec
        The command.
    stamp : Path
        A file whose time is that of the last success.
    log_folder : Path
        Where its output goes.
    say : callable
        Takes a line for the person.
    now : callable
        The local time.
    """

    spec: ChildSpec
    stamp: Path
    log_folder: Path
    say: Callable[[str], None]
    now: Callable[[], datetime] = field(default=datetime.now)
    failure: str = ""
    _running: Child | None = None
    _began: float = 0.0
    _not_before: float = 0.0

    def look(self) -> None:
        """Start it when it is due, and see how it ended; never waits."""
        now = time.monotonic()
        if self._running is None:
            if now >= self._not_before and self.is_due():
                self._start(now)
        elif not self._running.running:
            self._finish(self._running)
        elif now - self._began > LONGEST_S:
            self._running.kill()

    def is_due(self) -> bool:
        """Whether it is night and it was not done lately, or it was not done for more than a day."""
        try:
            age = self.now() - datetime.fromtimestamp(self.stamp.stat().st_mtime)
        except OSError:
            return True
        return (
            age > AT_LEAST_EVERY or age < -AT_MOST_EVERY or (self.now().hour in NIGHT and age > AT_MOST_EVERY)
        )

    def stop(self) -> None:
        """End it, if it runs."""
        if self._running is not None:
            self._running.ask_to_stop()
            self._running.wait_or_kill()

    def _start(self, now: float) -> None:
        self._began, self._not_before = now, now + AGAIN_AFTER_S
        try:
            self._running = Child(self.spec, self.log_folder)
        except OSError as fault:
            self._fail(f"it could not be started ({fault.strerror})")

    def _finish(self, ended: Child) -> None:
        self._running = None
        if ended.returncode == 0:
            try:
                self.stamp.touch(mode=0o600)
                self.failure = ""
            except OSError as fault:
                self._fail(f"{self.stamp}: {fault.strerror}")
        else:
            self._fail((ended.last_lines() or [ended.how_it_ended()])[-1])

    def _fail(self, told: str) -> None:
        if told != self.failure:
            self.say(f"The {self.spec.name} failed: {told}. It is tried again in an hour.")
        self.failure = told
