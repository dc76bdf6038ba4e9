"""The filling-density table of 49 CFR 173.304a, as data with its sources and marks.

Filling density: mass of gas over the mass of water that the cylinder holds at 60 °F, in percent.
"""

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from service.cylinders.markings import Marks, read_marks
from service.units import pa_from_psi

NOT_NAMED: Final = "(any not named)"
"""Designation of the row of the table for gases that it does not name."""
_LPG: Final = "LPG"
_GRAVITY = re.compile(r"(\d\.\d+) to (\d\.\d+)")
HYDROCARBONS: Final = frozenset({"R-290", "R-600", "R-600a", "R-1270"})
"""Designations that are filled by the table for liquefied petroleum gas: 49 CFR 173.304a(d)(1), 2015 edition, read;
that these are it is inferred."""


@dataclass(frozen=True, slots=True)
class Packaging:
    """A specification and the smallest marked pressure that a row names (gauge, [Pa]); None: any."""

    specification: str
    service_pressure_pa: float | None

    def admits(self, marks: Marks) -> bool:
        """Whether these marks are of this specification, and of this pressure or a higher one."""
        if marks.specification != self.specification:
            return False
        if self.service_pressure_pa is None or marks.specification == "39":
            return True
        return (
            marks.service_pressure_pa is not None
            and marks.service_pressure_pa >= self.service_pressure_pa * 0.9999
        )


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table: percent of the water capacity, None where it says ``not liquid full``; gravity [-]."""

    gas: str
    designation: str
    percent: float | None
    packagings: tuple[Packaging, ...]
    packaging_text: str
    gravity: tuple[float, float] | None
    source: str
    how_known: str

    def admits(self, marks: Marks) -> bool:
        """Whether the row names the cylinder's specification at its marked pressure or a lower one."""
        return any(packaging.admits(marks) for packaging in self.packagings)


class FillingTable:
    """All rows, found by designation, packaging and, for hydrocarbons, specific gravity."""

    def __init__(self, rows: Sequence[Row], supercritical: Sequence[Row] = ()) -> None:
        self.rows = tuple(rows)
        self._supercritical = tuple(supercritical)

    @classmethod
    def from_csv(cls, text: str, supercritical: str = "") -> "FillingTable":
        """Read the table from its CSV text, with densities computed for gases above their critical temperature."""
        read = [
            [_row(record) for record in csv.DictReader(io.StringIO(one))] for one in (text, supercritical)
        ]
        return cls(*read)

    def supercritical(self, designation: str) -> tuple[Row, ...]:
        """Computed rows of a gas that the law's table does not name and that has no liquid at 55 °C."""
        return tuple(row for row in self._supercritical if row.designation == designation)

    def named(self, designation: str) -> tuple[Row, ...]:
        """Rows that name this gas, the highest percentage first."""
        rows = (row for row in self.rows if row.designation == designation)
        return tuple(sorted(rows, key=lambda row: -(row.percent or 0.0)))

    def lpg(self, specific_gravity: float) -> Row | None:
        """Row of 173.304a(d)(1) for a specific gravity at 60 °F [-]; None below, the last row above."""
        best = None
        for row in self._lpg_rows:
            if row.gravity is not None and specific_gravity >= row.gravity[0]:
                best = row
        return best

    @cached_property
    def not_named(self) -> Row:
        """The row for a refrigerant gas that the table does not name."""
        return next(row for row in self.rows if row.designation == NOT_NAMED)

    @cached_property
    def _lpg_rows(self) -> tuple[Row, ...]:
        rows = [row for row in self.rows if row.gravity is not None]
        return tuple(sorted(rows, key=lambda row: row.gravity or (0.0, 0.0)))


def _row(record: dict[str, str]) -> Row:
    gravity = _GRAVITY.search(record["gas"]) if record["designation"].startswith(_LPG) else None
    text = record["authorised_packaging_DOT"]
    return Row(
        gas=record["gas"],
        designation=record["designation"],
        percent=float(record["max_filling_density_pct"]) if record["max_filling_density_pct"] else None,
        packagings=tuple(_packagings(text)),
        packaging_text=text,
        gravity=(float(gravity[1]), float(gravity[2])) if gravity else None,
        source=record["source"],
        how_known=record["how_known"],
    )


def _packagings(text: str) -> Iterator[Packaging]:
    """Specifications in a cell such as ``3A240; 4BA240; 39; 4B240 and 4BA240 without brazed seams``."""
    for word in re.findall(r"\b\d{1,2}[A-Z]{0,3}\d*(?:ET|X)?\b", text):
        if re.fullmatch(r"3|39|\d[A-Z]{1,3}", word):
            yield Packaging(word, None)
            continue
        marks = read_marks(f"DOT-{word}")
        if marks.specification is not None:
            pressure = marks.service_pressure_pa
            yield Packaging(marks.specification, pressure if pressure is not None else pa_from_psi(0.0))
