"""When the bytes of an HTTP/1.1 request are all there: so that no thread waits for a slow client."""

import re
from enum import Enum

_HEX = re.compile(rb"[0-9A-Fa-f]{1,16}").fullmatch

LARGEST_HEAD = 65_536
"""Request line and headers [bytes]."""
LONGEST_CHUNK_LINE = 1024


class Progress(Enum):
    """How much of a request is there."""

    MORE = "more is to come"
    WHOLE = "all of it"
    LARGE = "its head, and a body of stated length that is larger than what is kept here"
    HEAD_TOO_LONG = "431 Request Header Fields Too Large"
    BODY_TOO_LONG = "413 Content Too Large"
    FAULTY = "400 Bad Request"

    @property
    def is_refusal(self) -> bool:
        """Whether it is the status of an answer, and not worth a thread."""
        return self in (Progress.HEAD_TOO_LONG, Progress.BODY_TOO_LONG, Progress.FAULTY)


class Arrival:
    """
    One request as it comes in; where it ends is found as RFC 9112 says (section 6.3), nothing else of it is judged.

    Parameters
    ----------
    largest_body
        A longer body is not waited for; one in chunks is refused [bytes].
    begun
        What is there already, such as a request sent right behind another.
    """

    def __init__(self, largest_body: int, begun: bytes = b"") -> None:
        self._largest_body = largest_body
        self._data = bytearray(begun)
        self._looked = 0
        self._head_end = 0
        self._body_end: int | None = None
        self._chunked = False
        self._next_chunk = 0
        self.expects_continue = False

    def add(self, data: bytes) -> None:
        """Take over the next bytes."""
        self._data += data

    def __len__(self) -> int:
        return len(self._data)

    @property
    def begun(self) -> bool:
        """Whether anything is there."""
        return bool(self._data)

    @property
    def has_head(self) -> bool:
        """Whether the request line and all headers are there."""
        return self._head_end > 0

    def take(self) -> bytes:
        """Give the bytes away."""
        taken, self._data = bytes(self._data), bytearray()
        return taken

    def progress(self) -> Progress:
        """How much is there by now."""
        if not self.has_head and not self._find_head():
            return Progress.HEAD_TOO_LONG if len(self._data) > LARGEST_HEAD else Progress.MORE
        if self._chunked:
            return self._chunks()
        end = self._body_end or self._head_end
        if end - self._head_end > self._largest_body:
            return Progress.LARGE
        return Progress.WHOLE if len(self._data) >= end else Progress.MORE

    def _find_head(self) -> bool:
        found = self._data.find(b"\r\n\r\n", max(0, self._looked - 3))
        self._looked = len(self._data)
        if found < 0:
            return False
        self._head_end = self._next_chunk = found + 4
        for line in bytes(self._data[:found]).split(b"\r\n")[1:]:
            name, _, value = line.partition(b":")
            self._take_header(name.strip().lower(), value.strip().lower())
        return True

    def _take_header(self, name: bytes, value: bytes) -> None:
        if name == b"content-length" and value.isdigit() and len(value) < 16:
            self._body_end = self._head_end + int(value)
        elif name == b"transfer-encoding":
            self._chunked = value.endswith(b"chunked")
        elif name == b"expect":
            self.expects_continue = value == b"100-continue"

    def _chunks(self) -> Progress:
        """Go from chunk to chunk."""
        while self._next_chunk - self._head_end <= self._largest_body:
            line_end = self._data.find(b"\r\n", self._next_chunk)
            if line_end < 0:
                too_long = len(self._data) - self._next_chunk > LONGEST_CHUNK_LINE
                return Progress.FAULTY if too_long else Progress.MORE
            size = bytes(self._data[self._next_chunk : line_end]).partition(b";")[0].strip()
            if _HEX(size) is None:
                return Progress.FAULTY
            length = int(size, 16)
            if length == 0:
                # Trailers, or none, and an empty line.
                return Progress.WHOLE if self._data.find(b"\r\n\r\n", line_end) >= 0 else Progress.MORE
            if line_end + length - self._head_end > self._largest_body:
                return Progress.BODY_TOO_LONG
            if line_end + 2 + length + 2 > len(self._data):
                return Progress.MORE
            self._next_chunk = line_end + 2 + length + 2
        return Progress.BODY_TOO_LONG
