"""Practical limits of EN 378: the mass per volume of a room that people may still leave safely, as published data."""

import csv
import io
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PracticalLimit:
    """A limit [kg/m3] with how it is known and where from."""

    kg_m3: float
    mark: str
    source: str


def practical_limits(text: str) -> dict[str, PracticalLimit]:
    """Limits by designation out of the CSV text."""
    return {
        row["designation"]: PracticalLimit(float(row["practical_limit_kg_m3"]), row["mark"], row["source"])
        for row in csv.DictReader(io.StringIO(text))
    }
