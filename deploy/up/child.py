"""One child process: in a session of its own, its output kept in a rotating log, stopped by its id."""

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from deploy.up.log_file import LogFile

LAST_LINES = 15
_LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1


@dataclass(frozen=True, slots=True)
class ChildSpec:
    """What to run, and how to see that it is ready and goes on living.

    Parameters
    ----------
    name : str
        For people and for the log's file.
    argv, env : sequence, mapping
        The command.
    ready : callable
        Whether it has started.
    ready_within_s, stop_within_s : float
        Longest time to get ready, and to end after SIGTERM, [s].
    reread : sequence of Path
        Files that it reads again on SIGHUP when they change.
    pulse : Path or None
        A file that it touches once it is ready, and again as long as it lives.
    answers : callable or None
        Whether it answers now; asked every few seconds, may take some.
    hung_after_s : float
        Without pulse or answer for so long it counts as hung and is killed, [s].
    essential : bool
        Whether a first start without it is refused.
    """

    name: str
    argv: Sequence[str]
    env: Mapping[str, str]
    ready: Callable[[], bool] = field(default=lambda: True)
    ready_within_s: float = 30.0
    stop_within_s: float = 10.0
    reread: Sequence[Path] = ()
    pulse: Path | None = None
    answers: Callable[[], bool] | None = None
    hung_after_s: float = 60.0
    essential: bool = False


class Child:
    """A running process made from a `ChildSpec`."""

    def __init__(self, spec: ChildSpec, log_folder: Path) -> None:
        self.spec = spec
        self.log_path = log_folder / f"{spec.name}.log"
        self._last: deque[str] = deque(maxlen=LAST_LINES)
        self._read = _stamps(spec.reread)
        # A session of its own: Ctrl-C reaches the supervisor alone, which then stops the children in order.
        self._process = subprocess.Popen(
            list(spec.argv),
            env=dict(spec.env),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            start_new_session=True,
            preexec_fn=_die_with_parent if _LIBC else None,
        )
        self._pump = threading.Thread(target=self._keep_output, name=f"log of {spec.name}", daemon=True)
        self._pump.start()

    @property
    def pid(self) -> int:
        """The process id."""
        return self._process.pid

    @property
    def running(self) -> bool:
        """Whether the process is still there."""
        return self._process.poll() is None

    @property
    def returncode(self) -> int | None:
        """The exit code, a signal's number below zero, or None while it runs."""
        return self._process.poll()

    def how_it_ended(self) -> str:
        """In words: exit code or signal."""
        code = self._process.poll()
        if code is None:
            return "still running"
        if code < 0:
            return f"killed by {signal.Signals(-code).name}"
        return f"exit code {code}"

    def last_lines(self) -> list[str]:
        """Return the newest lines of its output."""
        self._pump.join(timeout=1.0)
        return list(self._last)

    def ask_to_stop(self) -> None:
        """Send SIGTERM; harmless when it has already ended."""
        if self.running:
            self._process.terminate()

    def tell_what_changed(self) -> None:
        """Send SIGHUP when a file changed that the child reads again then."""
        stamps = _stamps(self.spec.reread)
        if stamps != self._read and self.running:
            self._read = stamps
            self._process.send_signal(signal.SIGHUP)

    def wait_or_kill(self) -> bool:
        """Wait for the end, as long as the spec allows, then kill the process and what it started.

        Returns
        -------
        bool
            Whether it ended by itself.
        """
        try:
            self._process.wait(self.spec.stop_within_s)
        except subprocess.TimeoutExpired:
            self.kill()
            return False
        finally:
            self._pump.join(timeout=2.0)
        return True

    def kill(self) -> None:
        """End the process and what it started, at once."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.pid, signal.SIGKILL)
        self._process.wait()

    def _keep_output(self) -> None:
        stream = self._process.stdout
        if stream is None:  # pragma: no cover - Popen was told PIPE
            return
        with stream, LogFile(self.log_path) as log:
            for line in stream:
                text = line.rstrip("\n")
                self._last.append(text)
                log.write(text)


def _stamps(paths: Sequence[Path]) -> list[int]:
    return [path.stat().st_mtime_ns if path.exists() else 0 for path in paths]


def _die_with_parent() -> None:
    """Ask the kernel to end this child when the supervisor is killed outright (Linux only)."""
    if _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
