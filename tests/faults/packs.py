"""Packs for fuzzing to begin with, and words that spoil them.

Knows nothing of the worker, whose modules must be imported under instrumentation.
"""

from __future__ import annotations

import json

DEVICE = "urn:dev:mac:0024befffe804ff1"
NOW = 1.7e9
WORDS = (
    *("NaN", "Infinity", "-Infinity", "1e999", "-0", "null", "true", "[]", "{}", '""', '"x_"', "9" * 400),
    *(
        '"bn"',
        '"bt"',
        '"bver"',
        '"v"',
        '"vs"',
        '"vb"',
        '"s"',
        '"t"',
        '"u"',
        '"K"',
        '"Cel"',
        '"Pa"',
        "268435456",
        "\\ud800",
    ),
)


NUMBERS = (
    *(0, -0.0, 1, -1, 0.5, 1e-300, 1e300, -1e300, 2**28 - 1, 2**28, -(2**28), 2**53, 2**64, -273.15),
    *(-7e10, 7e10, -1e12, 1e12, NOW, NOW + 61.0, NOW - 3.2e7, -NOW, 946_684_800, 253_402_300_800, 4e9),
)
"""What a record's number is replaced by: ends of ranges, of calendars and of clocks."""
LABELS = ("bt", "t", "v", "bv", "bs", "s", "ut", "bver")


def seeds() -> list[bytes]:
    """Packs to begin with."""
    full = [
        {"bn": f"{DEVICE}:", "bt": NOW, "n": "gauge-pressure", "u": "Pa", "v": 8e5},
        {"n": "wall-temperature", "u": "Cel", "v": 21.5},
        {"n": "battery", "u": "%EL", "v": 80},
        {"n": "mass", "u": "kg", "v": 21.0, "t": -2},
    ]
    return [json.dumps(full[:n]).encode() for n in range(1, 5)] + [b"[]", b"{}", b"", b"[{}]"]
