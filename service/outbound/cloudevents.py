"""Write events as a CloudEvents 1.0 HTTP message, in binary, structured or batched content mode.

Source: CloudEvents specification 1.0 and its HTTP protocol binding: required ``id``, ``source``,
``specversion``, ``type``; binary mode carries attributes in ``ce-`` headers and the data type in
``Content-Type``.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from urllib.parse import quote

MOST_AT_ONCE = 50
"""Events of one message in batched mode; a few hundred bytes each."""
_JSON = "application/json"
_PRINTABLE_UNESCAPED = "".join(chr(code) for code in range(0x21, 0x7F) if chr(code) not in '"%')


class ContentMode(StrEnum):
    """Where the attributes travel: in headers beside the data, in one JSON envelope, in an array of envelopes."""

    BINARY = "binary"
    STRUCTURED = "structured"
    BATCHED = "batched"

    @property
    def most(self) -> int:
        """How many events one message has at most."""
        return MOST_AT_ONCE if self is ContentMode.BATCHED else 1


@dataclass(frozen=True, slots=True)
class CloudEvent:
    """One occurrence; ``source`` and ``id`` together identify it, so that a repeat is recognised as one."""

    id: str
    source: str
    type: str
    time: datetime
    data: Mapping[str, Any]
    subject: str | None = None
    sequence: str | None = None
    """The extension of that name: receivers order by it, since a replay may arrive beside newer events."""

    def attributes(self) -> dict[str, str]:
        """Every context attribute that is present, as text."""
        present = {
            "specversion": "1.0",
            "id": self.id,
            "source": self.source,
            "type": self.type,
            "time": self.time.isoformat(),
            "subject": self.subject,
            "sequence": self.sequence,
        }
        return {name: value for name, value in present.items() if value is not None}


def message(events: Sequence[CloudEvent], mode: ContentMode) -> tuple[dict[str, str], bytes]:
    """
    HTTP headers and body of one message.

    Parameters
    ----------
    events
        At least one, in order; more than one in batched mode alone.
    mode
        Where their attributes travel.

    Raises
    ------
    ValueError
        When there are none, or more than the mode can carry.
    """
    if not 1 <= len(events) <= mode.most:
        raise ValueError(f"{len(events)} events: expected 1 to {mode.most} in {mode} mode")
    if mode is ContentMode.BATCHED:
        body = _compact([_envelope(event) for event in events])
        return {"Content-Type": "application/cloudevents-batch+json; charset=utf-8"}, body
    return _binary(events[0]) if mode is ContentMode.BINARY else _structured(events[0])


def message_id(events: Sequence[CloudEvent]) -> str:
    """What one message is known by: its event's id, of several the first's and the last's."""
    first, last = events[0].id, events[-1].id
    return first if len(events) == 1 else f"{first}-{last}"


def _binary(event: CloudEvent) -> tuple[dict[str, str], bytes]:
    headers = {f"ce-{name}": _header_value(value) for name, value in event.attributes().items()}
    return {"Content-Type": _JSON, **headers}, _compact(event.data)


def _structured(event: CloudEvent) -> tuple[dict[str, str], bytes]:
    return {"Content-Type": "application/cloudevents+json; charset=utf-8"}, _compact(_envelope(event))


def _envelope(event: CloudEvent) -> dict[str, Any]:
    return {**event.attributes(), "datacontenttype": _JSON, "data": event.data}


def _header_value(text: str) -> str:
    """Percent-encode what the binding forbids in a header: space, quote, percent and all beyond ASCII."""
    return quote(text, safe=_PRINTABLE_UNESCAPED)


def _compact(value: Mapping[str, Any] | Sequence[Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8")
