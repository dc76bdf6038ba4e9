"""Starts children in order, watches them, and stops them in the opposite order."""

import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from deploy.up.child import Child, ChildSpec
from deploy.up.ports import wait_until
from deploy.up.refusal import StartRefused

RESTARTS = 3
RESTART_SPAN_S = 60.0
WATCH_PERIOD_S = 0.2


class Supervisor:
    """Keeps a handful of children running until it is told to stop.

    A child that dies once it was ready is started again, at most `RESTARTS` times within `RESTART_SPAN_S`;
    the person is told each time. One that never becomes ready, or keeps dying, ends everything.
    """

    def __init__(self, log_folder: Path, say: Callable[[str], None]) -> None:
        self._log_folder = log_folder
        self._say = say
        self._children: list[Child] = []
        self._deaths: dict[str, deque[float]] = {}
        self._stop = threading.Event()

    def request_stop(self) -> None:
        """Make `watch` return and waits end; safe in a signal handler."""
        self._stop.set()

    @property
    def stopping(self) -> bool:
        """Whether somebody asked to stop."""
        return self._stop.is_set()

    def start(self, spec: ChildSpec) -> Child:
        """Start a child and wait until it is ready.

        Raises
        ------
        StartRefused
            When it ends or stays silent instead; the message carries its last lines.
        """
        child = Child(spec, self._log_folder)
        self._children.append(child)
        self._wait_until_ready(child)
        return child

    def _wait_until_ready(self, child: Child) -> None:
        spec = child.spec
        ready = wait_until(
            spec.ready,
            within_s=spec.ready_within_s,
            still_hopeful=lambda: child.running and not self.stopping,
        )
        if not self.stopping and not (ready and child.running):
            ended = (
                child.how_it_ended() if not child.running else f"not ready within {spec.ready_within_s:.0f} s"
            )
            raise StartRefused(f"the {spec.name} did not start ({ended}).{self._quote(child)}")

    def watch(self) -> None:
        """Return when asked to stop.

        Raises
        ------
        StartRefused
            When a child keeps dying.
        """
        while not self._stop.wait(WATCH_PERIOD_S):
            for child in [child for child in self._children if not child.running]:
                self._start_again(child)
            for child in self._children:
                child.tell_what_changed()

    def stop_all(self) -> None:
        """Stop every child, the last started first, waiting for each to drain."""
        for child in reversed(self._children):
            was_running = child.running
            child.ask_to_stop()
            if not child.wait_or_kill():
                self._say(
                    f"  {child.spec.name} did not stop within {child.spec.stop_within_s:.0f} s and was killed"
                )
            elif was_running:
                self._say(f"  {child.spec.name} stopped")
        self._children.clear()

    def _start_again(self, dead: Child) -> None:
        deaths = self._deaths.setdefault(dead.spec.name, deque())
        deaths.append(time.monotonic())
        while deaths and deaths[0] < time.monotonic() - RESTART_SPAN_S:
            deaths.popleft()
        told = f"the {dead.spec.name} died ({dead.how_it_ended()})"
        if len(deaths) > RESTARTS:
            raise StartRefused(f"{told}, {len(deaths)} times within a minute.{self._quote(dead)}")
        self._say(
            f"{told[0].upper()}{told[1:]}; starting it again ({len(deaths)} of {RESTARTS})."
            f"{self._quote(dead)}"
        )
        successor = Child(dead.spec, self._log_folder)
        self._children[self._children.index(dead)] = successor
        self._wait_until_ready(successor)

    def _quote(self, child: Child) -> str:
        lines = child.last_lines()
        if not lines:
            return " It wrote nothing."
        quoted = "\n".join(f"    | {line}" for line in lines)
        return f" Its last lines (all of them in {child.log_path}):\n{quoted}"
