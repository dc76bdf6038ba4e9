"""Field data as an open package: CSV with a Table Schema in a data package, without anything that names anybody.

Data Package and Table Schema, version 2.0 (datapackage.org, 2024); CSV as RFC 4180 has it.
"""

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, fields
from datetime import date
from typing import Any, Final

from service.codes import AnalysisKind, ContaminationState

PROFILES: Final = "https://datapackage.org/profiles/2.0"
KINDS: Final[tuple[str, ...]] = tuple(AnalysisKind)
STATES: Final[tuple[str, ...]] = tuple(ContaminationState)


@dataclass(frozen=True, slots=True)
class FieldContents:
    """What was in one cylinder from one filling to the next; ``label`` is what it said."""

    contents: int
    label: str | None


@dataclass(frozen=True, slots=True)
class FieldPair:
    """One settled pair as read, uncorrected, with standard uncertainties [K], [Pa]; instruments by number."""

    contents: int
    day: date
    temp_k: float
    pressure_pa: float
    temp_noise_k: float
    pressure_noise_pa: float
    temp_bias_k: float
    pressure_bias_pa: float
    atmosphere_bias_pa: float
    thermometer: int | None
    gauge: int | None


@dataclass(frozen=True, slots=True)
class FieldTruth:
    """What turned out."""

    truth: int
    contents: int
    day: date
    kind: str
    designation: str | None
    state: str | None
    mass_fraction_uncertainty: float | None
    non_condensables_percent: float | None
    moisture_ppm: float | None
    acid_ppm: float | None
    oil_percent: float | None


@dataclass(frozen=True, slots=True)
class FieldPart:
    """One refrigerant of a composition that a laboratory found."""

    truth: int
    designation: str
    mass_fraction: float


@dataclass(frozen=True, slots=True)
class FieldData:
    """Everything of one owner."""

    contents: Sequence[FieldContents]
    pairs: Sequence[FieldPair]
    truths: Sequence[FieldTruth]
    compositions: Sequence[FieldPart]


_POSITIVE: Final = {"minimum": 0}
_MEASURED: Final = {"required": True, **_POSITIVE}
_KEY: Final = {"required": True, "unique": True, "minimum": 1}
_SHARE: Final = {"minimum": 0, "maximum": 1}
_PERCENT: Final = {"minimum": 0, "maximum": 100}
_DESIGNATION: Final = "by ASHRAE 34, such as R-410A"
_CONTENTS: Final = (
    "contents",
    "integer",
    {"required": True, "minimum": 1},
    "number of the contents in this package",
)
_DAY: Final = ("day", "date", {"required": True}, "day, by the owner's calendar")
COLUMNS: Final[Mapping[str, Sequence[tuple[str, str, Mapping[str, Any], str]]]] = {
    "contents": (
        ("contents", "integer", _KEY, "number of the contents in this package"),
        ("label", "string", {}, f"designation on the label before anything was measured, {_DESIGNATION}"),
    ),
    "pairs": (
        _CONTENTS,
        _DAY,
        ("temp_k", "number", _MEASURED, "temperature of the liquid as read [K]"),
        ("pressure_pa", "number", _MEASURED, "absolute pressure as read [Pa]"),
        ("temp_noise_k", "number", _MEASURED, "standard uncertainty that the settled state leaves [K]"),
        ("pressure_noise_pa", "number", _MEASURED, "the same of the pressure [Pa]"),
        ("temp_bias_k", "number", _MEASURED, "class of the thermometer, standard uncertainty [K]"),
        ("pressure_bias_pa", "number", _MEASURED, "class of the gauge, standard uncertainty [Pa]"),
        ("atmosphere_bias_pa", "number", _MEASURED, "of the air pressure it was read against [Pa]"),
        ("thermometer", "integer", {"minimum": 1}, "number of the thermometer in this package"),
        ("gauge", "integer", {"minimum": 1}, "number of the gauge in this package"),
    ),
    "truths": (
        ("truth", "integer", _KEY, "number of the result in this package"),
        _CONTENTS,
        _DAY,
        ("kind", "string", {"required": True, "enum": list(KINDS)}, "how it turned out"),
        ("designation", "string", {}, f"what it was, {_DESIGNATION}; empty: not named, or none of the catalogue"),
        ("state", "string", {"enum": list(STATES)}, "what was with it; empty: did not turn out"),
        ("mass_fraction_uncertainty", "number", _SHARE, "standard uncertainty of each mass fraction [-]"),
        ("non_condensables_percent", "number", _PERCENT, "air and other gases in the vapor [% by volume]"),
        ("moisture_ppm", "number", _POSITIVE, "water [ppm by mass]"),
        ("acid_ppm", "number", _POSITIVE, "acid [ppm by mass]"),
        ("oil_percent", "number", _PERCENT, "oil and other high-boiling residue [%]"),
    ),
    "compositions": (
        ("truth", "integer", {"required": True, "minimum": 1}, "number of the result in this package"),
        ("designation", "string", {"required": True}, _DESIGNATION),
        ("mass_fraction", "number", {"required": True, **_SHARE}, "of the whole [-]"),
    ),
}  # fmt: skip
"""Name, type, constraints and meaning of each column, in the order of the CSV."""
ROWS: Final = {"contents": FieldContents, "pairs": FieldPair, "truths": FieldTruth, "compositions": FieldPart}
_KEYS: Final = {"contents": ["contents"], "truths": ["truth"]}
_REFERS: Final = {
    "pairs": ("contents", "contents"),
    "truths": ("contents", "contents"),
    "compositions": ("truth", "truths"),
}
"""Column that names a row of another table, and that table."""


def files(data: FieldData, made_on: date) -> dict[str, str]:
    """
    The package's files by name.

    Parameters
    ----------
    data : FieldData
        What is in it.
    made_on : date
        Written into the descriptor.

    Returns
    -------
    dict
        ``datapackage.json`` and one CSV a table.
    """
    tables = {name: _csv(name, getattr(data, name)) for name in COLUMNS}
    return {
        "datapackage.json": json.dumps(descriptor(made_on), indent=1) + "\n",
        **{f"{name}.csv": text for name, text in tables.items()},
    }


def descriptor(made_on: date) -> dict[str, Any]:
    """What ``datapackage.json`` says."""
    return {
        "$schema": f"{PROFILES}/datapackage.json",
        "name": "heelmark-field-data",
        "title": "Settled readings of recovery cylinders, and what they turned out to hold",
        "description": (
            "No names, places, serials or device names, and no time finer than a day. Numbers of contents and "
            "instruments mean nothing outside of this package."
        ),
        "version": "1.0.0",
        "created": f"{made_on.isoformat()}T00:00:00Z",
        "resources": [_resource(name) for name in COLUMNS],
    }


def _resource(name: str) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "$schema": f"{PROFILES}/tableschema.json",
        "fields": [
            {"name": column, "type": kind, "description": words, **({"constraints": rules} if rules else {})}
            for column, kind, rules, words in COLUMNS[name]
        ],
        "missingValues": [""],
    }
    if name in _KEYS:
        schema["primaryKey"] = _KEYS[name]
    if name in _REFERS:
        column, other = _REFERS[name]
        schema["foreignKeys"] = [{"fields": [column], "reference": {"resource": other, "fields": [column]}}]
    return {
        "$schema": f"{PROFILES}/dataresource.json",
        "name": name,
        "path": f"{name}.csv",
        "type": "table",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _csv(name: str, rows: Iterable[Any]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([one.name for one in fields(ROWS[name])])
    for row in rows:
        writer.writerow(["" if value is None else value for value in astuple(row)])
    return out.getvalue()
