"""What the service is told of the processes beside it: a file of one size, which a full disk does not stop."""

import json
import os
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from deploy.up.chores import Chore
from deploy.up.kept import Kept, State

SIZE = 8192
ROOM = 65_536
EVERY_S = 5.0
LONGEST_TEXT = 200


class Report:
    """Writes the state of children and chores in place, when it changes and every few seconds.

    Parameters
    ----------
    path : Path
        The file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._written: object = None
        self._written_at = 0.0
        self._was_writable = True

    def write(self, kept: Sequence[Kept], chores: Sequence[Chore]) -> bool:
        """Write what is new; false while the disk cannot be written."""
        state = {"children": [_child(one) for one in kept], "chores": [_chore(one) for one in chores]}
        now = time.monotonic()
        if state == self._written and now - self._written_at < EVERY_S:
            return self._was_writable
        self._written, self._written_at = state, now
        self._was_writable = self._has_room()
        text = json.dumps({"at": time.time(), "disk_is_writable": self._was_writable, **state})
        with suppress(OSError):
            self._put(self._path, text.ljust(SIZE - 1).encode() + b"\n")
        return self._was_writable

    def _put(self, path: Path, data: bytes) -> None:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            os.pwrite(descriptor, data, 0)
        finally:
            os.close(descriptor)

    def _has_room(self) -> bool:
        """Whether a new file of some size finds room: in place something can be written for longer."""
        trial = self._path.with_name(".room")
        try:
            self._put(trial, b"x" * ROOM)
            return True
        except OSError:
            return False
        finally:
            with suppress(OSError):
                trial.unlink()


def _child(kept: Kept) -> dict[str, object]:
    fine = kept.state is State.RUNNING
    return {
        "name": kept.spec.name,
        "state": kept.state.value,
        "deaths": kept.deaths,
        "told": "" if fine else kept.told[:LONGEST_TEXT],
    }


def _chore(chore: Chore) -> dict[str, object]:
    return {"name": chore.spec.name, "failed": chore.failure[:LONGEST_TEXT]}
