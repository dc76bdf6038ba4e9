"""A log that stays bounded, and whose writer outlives a full disk."""

from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import TextIO

LOG_BYTES = 5_000_000
LOG_FILES = 3
LONGEST_LINE = 10_000


class LogFile:
    """Lines into a file; a full one is renamed, and so many are kept.

    A line that cannot be written is left out: whoever writes it must not be held up, nor end.
    """

    def __init__(self, path: Path, most_bytes: int = LOG_BYTES, files: int = LOG_FILES) -> None:
        self._path, self._most_bytes, self._files = path, most_bytes, files
        self._stream: TextIO | None = None

    def __enter__(self) -> "LogFile":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def write(self, line: str) -> None:
        """Append a line, shortened where it is longer than anybody reads."""
        try:
            stream = self._open()
            stream.write(line[:LONGEST_LINE] + "\n")
            stream.flush()
            if stream.tell() > self._most_bytes:
                self._turn_over()
        except OSError:
            self.close()

    def close(self) -> None:
        """Close the file; the next line opens it again."""
        if self._stream is not None:
            with suppress(OSError):  # what was left in its buffer found no room
                self._stream.close()
            self._stream = None

    def _open(self) -> TextIO:
        if self._stream is None:
            self._stream = self._path.open("a", encoding="utf-8", errors="replace")
        return self._stream

    def _turn_over(self) -> None:
        self.close()
        older = [self._path.with_name(f"{self._path.name}.{number}") for number in range(1, self._files)]
        for newer, target in zip(reversed([self._path, *older[:-1]]), reversed(older), strict=True):
            if newer.exists():
                newer.replace(target)
