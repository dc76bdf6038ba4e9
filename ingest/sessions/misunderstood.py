"""What was heard and could not be read, a line a device or topic and reason, for whoever has to mend it."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from ingest.wire.document import MOST_TOLD, told
from ingest.wire.hookup import rfc3339
from ingest.wire.sparkplug import Births

MOST_LINES = 200
"""A gateway that makes up names must not fill the memory; the line that was quiet the longest goes."""
MOST_EXAMPLE, MOST_DETAIL, MOST_SOURCE, MOST_TOPIC = 400, 300, 120, 400
"""So much is kept of a message, of what was wrong with it, and of its topic, [characters]."""
UNKNOWN_NAME = "unknown-name"


@dataclass(slots=True)
class Misunderstood:
    """Messages of one device or topic that were refused for one reason.

    Parameters
    ----------
    place, source, reason : str
        Where it was heard (empty if unknown), the device or topic, and the word the refusal is counted by.
    detail : str
        Field, value and expectation of the last one.
    example : str
        The beginning of the last message.
    partly : bool
        Whether other records of the last message were read.
    count : int
        How many since this was last told.
    first_s, last_s : float
        When the first and the last of these came, seconds since 1970 UTC, [s].
    topic : str
        Where the last one was published.
    payload : bytes
        The last one, whose tree the service is told.
    """

    place: str
    source: str
    reason: str
    detail: str
    example: str
    partly: bool
    count: int
    first_s: float
    last_s: float
    topic: str = ""
    payload: bytes = b""

    def as_json(self, births: Births | None = None) -> dict[str, Any]:
        """Return the line as `PUT /live` carries it, metrics of Sparkplug B under the names that are known."""
        return {
            "place": self.place or None,
            "source": self.source,
            "reason": self.reason,
            "detail": self.detail,
            "example": self.example,
            "partly": self.partly,
            "count": self.count,
            "first_seen": rfc3339(self.first_s),
            "last_seen": rfc3339(self.last_s),
            "topic": self.topic[:MOST_TOPIC] or None,
            "message": told(self.payload, self.topic, births),
        }


class MisunderstoodLines:
    """The lines that have changed since they were last told, at most `MOST_LINES`."""

    births: Births | None = None
    """What is known of Sparkplug B's nodes; set by whoever reads their messages."""

    def __init__(self) -> None:
        self._lines: OrderedDict[tuple[str, str], Misunderstood] = OrderedDict()

    def __bool__(self) -> bool:
        return bool(self._lines)

    def note(
        self,
        place: str,
        source: str,
        reason: str,
        detail: str,
        payload: bytes,
        at_s: float,
        *,
        partly: bool = False,
        topic: str = "",
    ) -> None:
        """Note one message, or part of one, that could not be read; `at_s` is when it came, [s]."""
        source = _printable(source)[:MOST_SOURCE]
        line = self._lines.pop((source, reason), None)
        if line is None:
            line = Misunderstood(place, source, reason, "", "", partly, 0, at_s, at_s)
        line.place, line.partly, line.topic = place, partly, _printable(topic)
        line.payload = payload if len(payload) <= 4 * MOST_TOLD else b""
        line.detail = _printable(detail)[:MOST_DETAIL]
        line.example = _printable(payload[: 4 * MOST_EXAMPLE].decode(errors="replace"))[:MOST_EXAMPLE]
        line.count += 1
        line.first_s, line.last_s = min(line.first_s, at_s), max(line.last_s, at_s)
        self._lines[source, reason] = line
        if len(self._lines) > MOST_LINES:
            self._lines.popitem(last=False)

    def note_unknown(
        self,
        place: str,
        source: str,
        names: Iterable[str],
        payload: bytes,
        at_s: float,
        *,
        partly: bool,
        topic: str = "",
    ) -> None:
        """Note records that name no quantity the worker knows."""
        listed = ", ".join(dict.fromkeys(names))
        detail = f"records named {listed}; a name ends in one of the quantities, such as gauge-pressure"
        self.note(place, source, UNKNOWN_NAME, detail, payload, at_s, partly=partly, topic=topic)

    def take(self, most: int) -> list[dict[str, Any]]:
        """Return the lines to tell now, those that were noted last first, and forget them."""
        lines: list[dict[str, Any]] = []
        # Another thread notes meanwhile: what is there a moment ago may be in its hand.
        with suppress(KeyError):
            while len(lines) < most:
                lines.append(self._lines.popitem()[1].as_json(self.births))
        return lines


def _printable(text: str) -> str:
    return "".join(one if one.isprintable() else " " for one in text)
