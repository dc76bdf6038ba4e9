"""Starts children in order, keeps each alive for itself, and stops them in the opposite order."""

import threading
from collections.abc import Callable, Sequence
from pathlib import Path

from deploy.up.child import Child, ChildSpec
from deploy.up.chores import Chore
from deploy.up.kept import Kept, State
from deploy.up.ports import wait_until
from deploy.up.refusal import StartRefused
from deploy.up.report import Report

WATCH_PERIOD_S = 0.2
ASK_EVERY_S = 5.0


class Supervisor:
    """Keeps a handful of children running until it is told to stop; it never gives up as a whole.

    A child that ends or hangs is started again after a wait that grows, for as long as it takes, while the others go
    on. Whoever looks at the board learns of it by the report.

    Parameters
    ----------
    log_folder : Path
        Where the children's logs go.
    say : callable
        Takes a line for the person.
    report : Report or None
        Where the state of the children is written for the service.
    """

    def __init__(self, log_folder: Path, say: Callable[[str], None], report: Report | None = None) -> None:
        self._log_folder, self._say, self._report = log_folder, say, report
        self._kept: list[Kept] = []
        self._chores: list[Chore] = []
        self._stop = threading.Event()

    def request_stop(self) -> None:
        """Make `watch` return and waits end; safe in a signal handler."""
        self._stop.set()

    @property
    def stopping(self) -> bool:
        """Whether somebody asked to stop."""
        return self._stop.is_set()

    def start(self, spec: ChildSpec) -> Child:
        """Start a child and wait until it is ready; one that is not is tried again by `watch`.

        Raises
        ------
        StartRefused
            When an essential child ends or stays silent; the message carries its last lines.
        """
        kept = Kept(spec, self._log_folder, self._say)
        self._kept.append(kept)
        if len(self._kept) == 1:
            threading.Thread(target=self._ask_children, name="ask children", daemon=True).start()

        def is_settled() -> bool:
            self._look()
            return kept.state is not State.STARTING

        wait_until(is_settled, within_s=2 * spec.ready_within_s, still_hopeful=lambda: not self.stopping)
        if spec.essential and kept.state is State.WAITING and not self.stopping:
            raise StartRefused(f"the {spec.name} did not start: it {kept.told}.{kept.quote()}")
        return kept.child

    def watch(self, chores: Sequence[Chore] = ()) -> None:
        """Keep the children alive, and do chores when they are due, until asked to stop."""
        self._chores = list(chores)
        while not self._stop.wait(WATCH_PERIOD_S):
            self._look()
            for chore in self._chores:
                chore.look()

    def stop_all(self) -> None:
        """Stop every child, the last started first, waiting for each to drain."""
        for chore in self._chores:
            chore.stop()
        for kept in reversed(self._kept):
            child = kept.child
            was_running = child.running
            child.ask_to_stop()
            if not child.wait_or_kill():
                self._say(
                    f"  {child.spec.name} did not stop within {child.spec.stop_within_s:.0f} s and was killed"
                )
            elif was_running:
                self._say(f"  {child.spec.name} stopped")
        self._kept.clear()

    def _look(self) -> None:
        writable = self._report is None or self._report.write(self._kept, self._chores)
        for kept in self._kept:
            kept.look(disk_is_writable=writable)

    def _ask_children(self) -> None:
        """Ask each child that can answer; in a thread, for one that hangs lets the asker wait."""
        while not self._stop.wait(ASK_EVERY_S):
            for kept in list(self._kept):
                if kept.spec.answers is not None and kept.spec.answers():
                    kept.note_answer()
