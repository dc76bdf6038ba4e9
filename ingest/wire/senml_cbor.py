"""The CBOR form of SenML (RFC 8428, section 6) becomes the same records as the JSON form."""

from __future__ import annotations

import base64
from decimal import Decimal
from typing import Any

from ingest.wire import cbor
from ingest.wire.reading import Refused

LABELS = {
    -1: "bver",
    -2: "bn",
    -3: "bt",
    -4: "bu",
    -5: "bv",
    -6: "bs",
    0: "n",
    1: "u",
    2: "v",
    3: "vs",
    4: "vb",
    5: "s",
    6: "t",
    7: "ut",
    8: "vd",
}
"""RFC 8428, table 4."""
_NUMBERS = {name: number for number, name in LABELS.items()}
_ARRAYS = range(0x80, 0xA0)
_SELF_DESCRIBED = b"\xd9\xd9\xf7"
"""Tag 55799 before the data (RFC 8949, 3.4.6)."""
MOST_DEPTH = 8
"""A pack is an array of maps; what an unknown field holds may be somewhat deeper."""


def is_cbor(payload: bytes) -> bool:
    """Whether a payload begins like a CBOR array: no text in UTF-8, and so no JSON, begins with these bytes."""
    return payload[:3] == _SELF_DESCRIBED or (payload[:1] != b"" and payload[0] in _ARRAYS)


def decode(payload: bytes) -> list[Any]:
    """Decode a pack to what its JSON form would decode to.

    Parameters
    ----------
    payload : bytes
        The pack.

    Returns
    -------
    list
        Records with the labels of the JSON form; what is no record is left as it is, for the reader to refuse.

    Raises
    ------
    Refused
        It is not CBOR, or has bytes after its end, or a field is labelled by text where the RFC has a number.
    """
    try:
        pack = cbor.decode(payload.removeprefix(_SELF_DESCRIBED), MOST_DEPTH, duplicate_keys=False)
    except ValueError as error:
        raise Refused("not-senml", str(error)) from error
    if not isinstance(pack, list):
        raise Refused("not-senml", f"the pack is a {type(pack).__name__}, expected an array of records")
    return [_labelled(number, record) for number, record in enumerate(pack)]


def _labelled(number: int, record: object) -> object:
    if not isinstance(record, dict):
        return record
    fields: dict[str, Any] = {}
    for label, value in record.items():
        if label in _NUMBERS:
            raise Refused(
                "not-senml", f"record {number}: label {label!r} is text, expected {_NUMBERS[label]}"
            )
        # An integer that the RFC does not list is a field to ignore, as in JSON any other name.
        name = LABELS.get(label) if type(label) is int else label
        if isinstance(name, str):
            fields[name] = _plain(value)
    return fields


def _plain(value: object) -> object:
    """Return a value as JSON would have it: decimal fractions as numbers, bytes as base64 with the URL alphabet."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, bytes):
        return base64.urlsafe_b64encode(value).rstrip(b"=").decode()
    return value
