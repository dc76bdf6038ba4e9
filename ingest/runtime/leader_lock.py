"""A standby on the owner's host: started and ready, it waits until the owner is gone or hangs.

The owner holds a lock on a file beside its inbox, which the kernel lets go of however the process ends, and touches the
file while it runs. Two containers that share the folder share the lock too. Linux alone.
"""

from __future__ import annotations

import fcntl
import os
import signal
import struct
import time
from collections.abc import Callable
from pathlib import Path

import structlog

log = structlog.get_logger(__name__)

BEAT_S, LOOK_S = 0.25, 0.05
STANDSTILL_S = 1.2
"""An owner that has not touched the file for so long is stopped or starved, and is ended before it is replaced, [s]."""
_LOCK = struct.Struct("hhqqi0q")
"""`struct flock` of fcntl(2): type, whence, start, length, process."""


class LeaderLock:
    """The lock of one data folder.

    Parameters
    ----------
    folder : Path
        The worker's data folder.
    """

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._file = os.open(folder / "owner.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        self._held = False

    def take(self) -> bool:
        """Take the lock if nobody holds it; returns whether it is ours."""
        if not self._held:
            try:
                fcntl.lockf(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                self._held = True
            except OSError:
                return False
        return True

    def beat(self) -> None:
        """Say that the owner runs; one that replaces another by force gets the lock when that one has ended."""
        if self.take():
            os.utime(self._file)

    def beaten(self) -> int:
        """Return a number that changes with every beat."""
        return os.fstat(self._file).st_mtime_ns

    def holder(self) -> int:
        """Return the process that holds the lock as the kernel knows it; 0 for none, or none that is seen from here."""
        asked = _LOCK.pack(fcntl.F_WRLCK, os.SEEK_SET, 0, 0, 0)
        kind, *_, process = _LOCK.unpack(fcntl.fcntl(self._file, fcntl.F_GETLK, asked))
        return 0 if kind == fcntl.F_UNLCK else int(process)


def wait_for_turn(leader_lock: LeaderLock, stopped: Callable[[], bool]) -> bool:
    """Wait until there is no owner any more; returns False if asked to stop before.

    An owner that hangs is ended with SIGKILL first: stopped in the middle of a commit it would keep the inbox
    locked, and waking up it must not go on. It loses nothing by that.
    """
    log.info("worker.standing_by")
    seen, since = leader_lock.beaten(), time.monotonic()
    while not leader_lock.take():
        if stopped():
            return False
        now, beat = time.monotonic(), leader_lock.beaten()
        if beat != seen:
            seen, since = beat, now
        elif now - since > STANDSTILL_S:
            process, since = leader_lock.holder(), now
            log.error("worker.owner_ended", process=process)
            if not process:
                return True
            os.kill(process, signal.SIGKILL)
        time.sleep(LOOK_S)
    return True
