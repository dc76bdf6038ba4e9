"""A disk of one's own, ext4 in a file, so that it can really fill up, go read-only and forget what was not synced."""

from __future__ import annotations

import contextlib
import os
import resource
import subprocess
from collections.abc import Callable
from pathlib import Path

SIZE_MB = 40


def _run(*command: str) -> bool:
    return subprocess.run(command, capture_output=True).returncode == 0


class Disk:
    """A folder on a disk of its own where root may mount one; else a plain folder and a limit on the size of files."""

    def __init__(self, folder: Path, size_mb: int = SIZE_MB) -> None:
        self.folder, self.image, self.size_mb = folder, folder.with_suffix(".img"), size_mb
        folder.mkdir()
        self.is_own = os.geteuid() == 0 and self._make() and self._mount()

    def _make(self) -> bool:
        with self.image.open("wb") as file:
            file.truncate(self.size_mb * 1_000_000)
        with contextlib.suppress(OSError):
            return _run("mkfs.ext4", "-q", "-m", "0", str(self.image))
        return False

    def _mount(self) -> bool:
        return _run("mount", "-o", "loop", str(self.image), str(self.folder))

    def fill(self, pid: int) -> None:
        """Leave no room: the disk is filled to the last block, or the process may not make any file longer."""
        if not self.is_own:
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
            return
        with (self.folder / "filler").open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(b"x" * 4096)

    def free(self, pid: int) -> None:
        """Make room again."""
        if self.is_own:
            (self.folder / "filler").unlink(missing_ok=True)
            self._sync()
            return
        with contextlib.suppress(ProcessLookupError):
            unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
            resource.prlimit(pid, resource.RLIMIT_FSIZE, unlimited)

    def _sync(self) -> None:
        """Have what was deleted reach the disk: a disk that fails right after would have it back, and stay full."""
        folder = os.open(self.folder, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    def fail(self) -> bool:
        """Have the kernel turn it read-only under whoever writes, as after an error of the medium."""
        return self.is_own and _run("mount", "-o", "remount,abort", str(self.folder))

    def repair(self) -> None:
        """Take it off, check it and put it back; nobody may use it meanwhile."""
        if self.is_own:
            self.remove()
            _run("e2fsck", "-p", "-f", str(self.image))
            self.is_own = self._mount()
            assert self.is_own, "the worker's disk could not be mounted again"

    def lose_power(self, freeze: Callable[[], None], kill: Callable[[], None]) -> None:
        """Have the machine die under whoever writes: what was not synced is gone, unless written meanwhile.

        The file behind the disk has what has reached the disk; what waits in memory is not in it. A copy of that moment
        is put in its place, whose journal is replayed as at any start.

        Parameters
        ----------
        freeze, kill : callable
            Stop the processes that use it, and end them.
        """
        assert self.is_own
        freeze()
        reached = self.image.with_suffix(".reached")
        copied = _run("cp", "--sparse=always", str(self.image), str(reached))
        kill()
        self.remove()
        reached.replace(self.image)
        assert copied
        assert self._mount(), "what had reached the disk could not be mounted"

    def remove(self) -> None:
        """Take it off."""
        if self.is_own:
            _run("umount", str(self.folder)) or _run("umount", "-l", str(self.folder))
