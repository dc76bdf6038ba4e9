"""Water capacity, tare and requalification stamps, read as people type them.

The requalification stamp is month, RIN, year, with the RIN's four characters in a square between them, and a
suffix after the year: 49 CFR 180.213 (2015 edition, read). A two-digit year is the latest one not in the
future (inferred: the rule prints 06 for 2006).
"""

import re
from dataclasses import dataclass
from datetime import date
from typing import Final

from service.cylinders.books import BOOKS
from service.cylinders.water_capacity import KG_PER_POUND, water_capacity_from_volume_m3

_NUMBER = r"(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>[A-Z]+\.?(?: ?IN\b| ?FT\b)?[\d³]*)?"
_WATER = re.compile(rf"(?:W\.?\s*C\.?|WATER(?: CAP(?:ACITY)?)?)[\s:=]*{_NUMBER}")
_TARE = re.compile(rf"(?:T\.?\s*W\.?|TARE(?: WEIGHT| WT)?)[\s:=]*{_NUMBER}")
_UNITS: Final = {"LB": "LB", "LBS": "LB", "KG": "KG", "KGS": "KG", "L": "L", "LTR": "L"}
# Marks that may follow a number which has no unit; any other word after it is taken for a unit.
_NEXT_MARK = re.compile(
    r"^(?:T|W|TW|WC|TARE|WATER|DOT|TC|CTC|ICC|NRC|PH|PW|TP|TS|RIN|ISO|EN|UN|REE|MFG|M\d+|[A-Z]\d{3})$"
)
_STAMP = re.compile(
    r"^(?P<month>\d{1,2})\s*[-/. ]\s*"
    r"(?:(?P<rin>[A-Z]\d{3}|[A-Z0-9]{2}\s?[A-Z0-9]{2}(?=\s*[-/. ]))\s*[-/. ]\s*)?"
    r"(?P<year>\d{4}|\d{2})\s*(?P<suffix>FS|AE|UE|VE|RS|[SE+*R★]*)$"
)
_STAMP_YEAR_FIRST = re.compile(r"(?P<year>\d{4}|\d{2})\s*[-/.]\s*(?P<month>\d{2})$")
_STAMP_WITHIN = re.compile(
    r"(?<!\S)\d{1,2}[-/. ][A-Z]\d{3}[-/. ](?:\d{4}|\d{2})(?:\s?(?:[AUV]E|FS|RS|[SE+*R★]))?(?!\S)"
)
_SUFFIX_MEANING: Final = {
    "": "volumetric expansion test",
    "*": "ten-year test of 180.209(b)",
    "+": "special filling limit of 173.302a(b)",
    "S": "proof pressure test",
    "E": "external visual inspection under 180.209(g)",
    "FS": "shell and porous filler",
    "AE": "acoustic emission",
    "UE": "ultrasonic examination",
    "VE": "eddy current with visual examination",
}
_OLDEST_YEARS: Final = 75
"""No cylinder in service is older: a stamp that would have to be is a misreading, mostly one of a coming month (a
judgement) [years]."""


class BadStamp(ValueError):
    """A stamp that cannot be what is on the cylinder."""

    def __init__(self, text: str, expected: str) -> None:
        super().__init__(f"{text!r} is not a requalification stamp: expected {expected}")
        self.text = text
        self.expected = expected


class FutureStamp(BadStamp):
    """A stamp of a month that has not come, or, with two digits, of a century ago."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """A requalification or manufacture stamp.

    Parameters
    ----------
    year, month : int
        When the test was made.
    rin : str or None
        Requalifier identification number; None on a manufacture stamp or where illegible.
    suffix : str
        As stamped, ``*`` for the five-point star.
    text : str
        As typed.
    """

    year: int
    month: int
    rin: str | None = None
    suffix: str = ""
    text: str = ""

    @property
    def meaning(self) -> str:
        """What the suffix says about the test."""
        parts = [self.suffix] if self.suffix in _SUFFIX_MEANING else list(self.suffix)
        if not all(part in _SUFFIX_MEANING for part in parts):
            return f"suffix {self.suffix!r}: meaning not known here"
        return "; ".join(_SUFFIX_MEANING[part] for part in parts)


def read_stamp(text: str, *, on: date, law: str = "us") -> Stamp:
    """Read a stamp such as ``06-23``, ``6 A123 23 S``, ``09/2024``, ``9 A1 32 06``; under ADR ``2019/06``, ``19/06``.

    Parameters
    ----------
    text : str
        As typed.
    on : date
        Today; a stamp cannot be later.
    law : str
        Rule book of the place, which decides whether the year or the month comes first.

    Raises
    ------
    BadStamp
        When it is not a stamp or has no such month.
    FutureStamp
        When it lies in the future.
    """
    cleaned = re.sub(r"\s+", " ", text.strip().upper()).replace("★", "*")
    if BOOKS[law].stamp_order == "year-first":
        return _read_year_first(cleaned, text, on)
    found = _STAMP.match(cleaned)
    if found is None:
        raise BadStamp(text, "month, RIN if there is one, year: 06-23, 6 A123 23 S")
    month = int(found["month"])
    if not 1 <= month <= 12:
        raise BadStamp(text, "a month from 1 to 12 first")
    year = _full_year(found["year"], month, text, on)
    rin = found["rin"]
    return Stamp(year, month, re.sub(r"\s", "", rin) if rin else None, found["suffix"], text.strip())


def _read_year_first(cleaned: str, text: str, on: date) -> Stamp:
    """ADR 6.2.2.7.7 (read): letters of the country, mark of the inspection body, year and month."""
    found = _STAMP_YEAR_FIRST.search(cleaned)
    if found is None or not 1 <= int(found["month"]) <= 12:
        raise BadStamp(text, "year and month of the last periodic inspection: 2019/06, 19/06")
    month = int(found["month"])
    body = cleaned[: found.start()].strip() or None
    return Stamp(_full_year(found["year"], month, text, on), month, body, "", text.strip())


def stamp_within(text: str) -> str | None:
    """The stamp with its RIN in a line that holds all the marks, such as ``DOT-4BA400 WC 47.7 LB 6 A123 23 S``."""
    found = _STAMP_WITHIN.search(text.upper())
    return None if found is None else text[found.start() : found.end()]


def _full_year(digits: str, month: int, text: str, on: date) -> int:
    year = int(digits)
    if len(digits) == 2:
        year += on.year // 100 * 100
        if (year, month) > (on.year, on.month):
            year -= 100
    if (year, month) > (on.year, on.month) or year < on.year - _OLDEST_YEARS:
        raise FutureStamp(text, f"a month not later than {on:%m-%Y} and not older than {_OLDEST_YEARS} years")
    return year


def read_water_capacity_kg(text: str, *, default_unit: str = "LB") -> float | None:
    """Water capacity [kg] in a stamping such as ``WC 47.7 LB``; None where none is stamped or its unit is unknown.

    A volume (``26.2 L``) is turned into the mass of water that 49 CFR 173.304a(a)(2) note 1 defines.
    """
    found = _WATER.search(text.upper())
    value, unit = _quantity(found, default_unit)
    if unit == "L":
        return water_capacity_from_volume_m3(value / 1000.0)
    return _mass_kg(value, unit)


def read_tare_kg(text: str, *, default_unit: str = "LB") -> float | None:
    """Tare [kg] in a stamping such as ``TW 27.4``; None where none is stamped or its unit is unknown."""
    found = _TARE.search(text.upper())
    return _mass_kg(*_quantity(found, default_unit))


def unread_quantity(text: str, field: str) -> str | None:
    """
    The part of a line of marks whose unit is not known, such as ``WC 1300 CU IN``.

    Parameters
    ----------
    text : str
        As typed.
    field : {"water_capacity_kg", "tare_kg"}
        Which quantity.

    Returns
    -------
    str or None
        None where the quantity is not stamped or was read.
    """
    pattern, read = {
        "water_capacity_kg": (_WATER, read_water_capacity_kg),
        "tare_kg": (_TARE, read_tare_kg),
    }[field]
    found = pattern.search(text.upper())
    return None if found is None or read(text) is not None else text[found.start() : found.end()].strip()


def _quantity(found: re.Match[str] | None, default_unit: str) -> tuple[float, str | None]:
    """Value and unit; the unit is None where nothing was found or the word after the number is no known unit."""
    if found is None:
        return 0.0, None
    word = (found["unit"] or "").rstrip(".")
    unit = default_unit if not word or _NEXT_MARK.match(word) else _UNITS.get(word)
    return float(found["value"].replace(",", ".")), unit


def _mass_kg(value: float, unit: str | None) -> float | None:
    return {"KG": value, "LB": value * KG_PER_POUND}.get(unit or "")
