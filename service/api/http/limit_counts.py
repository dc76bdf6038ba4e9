"""Counts of requests kept in this process, without a thread: the library's own store starts one for every request."""

import threading
import time
from typing import Any

from limits.storage import Storage

URI = "process://"
SWEEP_AT = 10_000
"""Keys; past it those whose window is over are dropped, so that many callers do not fill the memory."""


class ProcessCounts(Storage):
    """
    Fixed windows in a dictionary.

    Parameters
    ----------
    uri
        ``process://``; says nothing further.
    """

    STORAGE_SCHEME: list[str] | None = ["process"]  # noqa: RUF012

    def __init__(self, uri: str | None = None, **options: Any) -> None:
        super().__init__(uri, **options)
        self._lock = threading.Lock()
        self._windows: dict[str, tuple[int, float]] = {}

    @property
    def base_exceptions(self) -> type[Exception]:
        """Nothing outside can fail."""
        return ValueError

    def incr(self, key: str, expiry: int, amount: int = 1) -> int:
        """Count in the key's window, a new one where the last one is over."""
        now = time.time()
        with self._lock:
            count, ends = self._windows.get(key, (0, 0.0))
            count, ends = (count, ends) if ends > now else (0, now + expiry)
            self._windows[key] = (count + amount, ends)
            if len(self._windows) > SWEEP_AT:
                self._windows = {name: window for name, window in self._windows.items() if window[1] > now}
        return count + amount

    def get(self, key: str) -> int:
        """The count of the key's window."""
        count, ends = self._windows.get(key, (0, 0.0))
        return count if ends > time.time() else 0

    def get_expiry(self, key: str) -> float:
        """When the key's window ends, now where there is none."""
        return max(self._windows.get(key, (0, 0.0))[1], time.time())

    def check(self) -> bool:
        """Always there."""
        return True

    def reset(self) -> int | None:
        """Forget everything."""
        with self._lock:
            forgotten = len(self._windows)
            self._windows = {}
        return forgotten

    def clear(self, key: str) -> None:
        """Forget one key."""
        with self._lock:
            self._windows.pop(key, None)
