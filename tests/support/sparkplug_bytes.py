"""Sparkplug B payloads written byte by byte, by the wire format alone: the worker decodes them with another library.

Wire format: protobuf.dev, "Encoding" (varint 0, eight bytes 1, length-delimited 2, four bytes 5); field numbers:
`sparkplug_b.proto` of Eclipse Tahu.
"""

from __future__ import annotations

import struct


def varint(number: int) -> bytes:
    """Return a whole number of no sign, seven bits a byte, the lowest first."""
    out = bytearray()
    while number > 0x7F:
        out.append(number & 0x7F | 0x80)
        number >>= 7
    out.append(number)
    return bytes(out)


def whole(field: int, value: int) -> bytes:
    """Return a field with a varint."""
    return varint(field << 3) + varint(value)


def block(field: int, value: bytes) -> bytes:
    """Return a field with so many bytes."""
    return varint(field << 3 | 2) + varint(len(value)) + value


def double(field: int, value: float) -> bytes:
    """Return a field with eight bytes."""
    return varint(field << 3 | 1) + struct.pack("<d", value)


def single(field: int, value: float) -> bytes:
    """Return a field with four bytes."""
    return varint(field << 3 | 5) + struct.pack("<f", value)


def metric(
    value: bytes,
    *,
    name: str = "",
    alias: int | None = None,
    at_ms: int | None = None,
    datatype: int | None = None,
    more: bytes = b"",
) -> bytes:
    """Return a metric; `value` is one of its value's fields, `more` what else it carries."""
    made = block(1, name.encode()) if name else b""
    for field, number in ((2, alias), (3, at_ms), (4, datatype)):
        made += b"" if number is None else whole(field, number)
    return made + more + value


def payload(seq: int | None, *metrics: bytes, at_ms: int | None = None) -> bytes:
    """Return a payload of these metrics."""
    made = b"" if at_ms is None else whole(1, at_ms)
    made += b"".join(block(2, one) for one in metrics)
    return made + (b"" if seq is None else whole(3, seq))
