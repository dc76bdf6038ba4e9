"""Write an event as a CloudEvents 1.0 HTTP message, in binary or in structured content mode.

Source: CloudEvents specification 1.0 and its HTTP protocol binding: required ``id``, ``source``,
``specversion``, ``type``; binary mode carries attributes in ``ce-`` headers and the data type in
``Content-Type``.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any
from urllib.parse import quote

_JSON = "application/json"
_PRINTABLE_UNESCAPED = "".join(chr(code) for code in range(0x21, 0x7F) if chr(code) not in '"%')


class ContentMode(StrEnum):
    """Where the attributes travel: in headers beside the data, or in one JSON envelope."""

    BINARY = "binary"
    STRUCTURED = "structured"


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


def message(event: CloudEvent, mode: ContentMode) -> tuple[dict[str, str], bytes]:
    """HTTP headers and body of an event."""
    return _binary(event) if mode is ContentMode.BINARY else _structured(event)


def _binary(event: CloudEvent) -> tuple[dict[str, str], bytes]:
    headers = {f"ce-{name}": _header_value(value) for name, value in event.attributes().items()}
    return {"Content-Type": _JSON, **headers}, _compact(event.data)


def _structured(event: CloudEvent) -> tuple[dict[str, str], bytes]:
    envelope = {**event.attributes(), "datacontenttype": _JSON, "data": event.data}
    return {"Content-Type": "application/cloudevents+json; charset=utf-8"}, _compact(envelope)


def _header_value(text: str) -> str:
    """Percent-encode what the binding forbids in a header: space, quote, percent and all beyond ASCII."""
    return quote(text, safe=_PRINTABLE_UNESCAPED)


def _compact(value: Mapping[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8")
