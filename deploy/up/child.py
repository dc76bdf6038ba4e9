"""One child process: in a session of its own, its output kept in a rotating log, stopped by its id."""

import ctypes
import logging
import os
import signal
import subprocess
import sys
import threading
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from logging.handlers import RotatingFileHandler
from pathlib import Path

LAST_LINES = 15
LOG_BYTES = 5_000_000
LOG_FILES = 3
_LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1


@dataclass(frozen=True, slots=True)
class ChildSpec:
    """What to run, how to see that it is ready, and the files that it reads again on SIGHUP when they change."""

    name: str
    argv: Sequence[str]
    env: Mapping[str, str]
    ready: Callable[[], bool] = field(default=lambda: True)
    ready_within_s: float = 30.0
    stop_within_s: float = 10.0
    reread: Sequence[Path] = ()


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
            os.killpg(self.pid, signal.SIGKILL)
            self._process.wait()
            return False
        finally:
            self._pump.join(timeout=2.0)
        return True

    def _keep_output(self) -> None:
        handler = RotatingFileHandler(
            self.log_path, maxBytes=LOG_BYTES, backupCount=LOG_FILES - 1, encoding="utf-8"
        )
        stream = self._process.stdout
        if stream is None:  # pragma: no cover - Popen was told PIPE
            return
        with stream:
            for line in stream:
                text = line.rstrip("\n")
                self._last.append(text)
                handler.emit(logging.makeLogRecord({"msg": text, "args": None}))
        handler.close()


def _stamps(paths: Sequence[Path]) -> list[int]:
    return [path.stat().st_mtime_ns if path.exists() else 0 for path in paths]


def _die_with_parent() -> None:
    """Ask the kernel to end this child when the supervisor is killed outright (Linux only)."""
    if _LIBC is not None:
        _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
