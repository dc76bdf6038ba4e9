"""One child that is kept alive: started again when it ends or hangs, after waits that grow."""

import time
from collections.abc import Callable
from enum import Enum
from pathlib import Path

from deploy.up.child import Child, ChildSpec

LONGEST_WAIT_S = 60.0
STEADY_AFTER_S = 300.0
"""A child that has run for so long begins again with the shortest wait."""


class State(Enum):
    """What a kept child is doing."""

    STARTING = "starting"
    RUNNING = "running"
    WAITING = "waiting"


class Kept:
    """A child process and its successors.

    Parameters
    ----------
    spec : ChildSpec
        What to run.
    log_folder : Path
        Where its log goes.
    say : callable
        Takes a line for the person.
    """

    def __init__(self, spec: ChildSpec, log_folder: Path, say: Callable[[str], None]) -> None:
        self.spec, self._log_folder, self._say = spec, log_folder, say
        self.deaths = 0
        self.told = ""
        self.state = State.STARTING
        self._since = self._alive_at = time.monotonic()
        self._next_start = 0.0
        self._pulse = self._first_pulse = self._pulse_now()
        self.child = Child(spec, log_folder)

    def look(self, *, disk_is_writable: bool) -> None:
        """Do what is due now; never waits.

        Parameters
        ----------
        disk_is_writable : bool
            While it is not, a pulse that does not change says nothing.
        """
        now = time.monotonic()
        if self.state is State.WAITING:
            if now >= self._next_start:
                self._start(now)
        elif not self.child.running:
            self._note_death(now, f"ended ({self.child.how_it_ended()})")
        elif self.state is State.STARTING:
            self._look_whether_ready(now)
        else:
            self._look_whether_alive(now, disk_is_writable=disk_is_writable)
            self.child.tell_what_changed()

    def note_answer(self) -> None:
        """Take note that the child has answered; called from another thread."""
        self._alive_at = time.monotonic()

    def quote(self) -> str:
        """Return its last lines, for the person."""
        lines = self.child.last_lines()
        if not lines:
            return " It wrote nothing."
        quoted = "\n".join(f"    | {line}" for line in lines)
        return f" Its last lines (all of them in {self.child.log_path}):\n{quoted}"

    def _start(self, now: float) -> None:
        self.state, self._since, self._alive_at = State.STARTING, now, now
        self._first_pulse = self._pulse_now()
        try:
            self.child = Child(self.spec, self._log_folder)
        except OSError as fault:  # no memory, no process, no file to be had
            self._note_death(now, f"could not be started ({fault.strerror})")

    def _look_whether_ready(self, now: float) -> None:
        has_pulse = self.spec.pulse is None or self._pulse_now() != self._first_pulse
        if has_pulse and self.spec.ready():
            self.state, self._since, self._alive_at = State.RUNNING, now, now
        elif now - self._since > self.spec.ready_within_s:
            self.child.kill()
            self._note_death(now, f"was not ready within {self.spec.ready_within_s:.0f} s")

    def _look_whether_alive(self, now: float, *, disk_is_writable: bool) -> None:
        pulse = self._pulse_now()
        if pulse != self._pulse or not disk_is_writable:
            self._pulse, self._alive_at = pulse, now
        if self.spec.pulse is None and self.spec.answers is None:
            self._alive_at = now
        if now - self._alive_at > self.spec.hung_after_s:
            self.child.kill()
            self._note_death(now, f"hung: no sign of life for {self.spec.hung_after_s:.0f} s")

    def _note_death(self, now: float, how: str) -> None:
        if self.state is State.RUNNING and now - self._since > STEADY_AFTER_S:
            self.deaths = 0
        self.deaths += 1
        wait_s = min(LONGEST_WAIT_S, 2.0 ** (self.deaths - 1))
        self.state, self._since, self._next_start = State.WAITING, now, now + wait_s
        self.told = how
        self._say(f"The {self.spec.name} {how}; starting it again in {wait_s:.0f} s.{self.quote()}")

    def _pulse_now(self) -> int:
        try:
            return self.spec.pulse.stat().st_mtime_ns if self.spec.pulse is not None else 0
        except OSError:
            return 0
