"""Reads a data package back by its own schema, and refuses what the published rules forbid.

The rules are those of Data Package, Data Resource and Table Schema 2.0 (datapackage.org) that such a package can
break, written down here from memory.
"""

import csv
import io
import json
import re
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import jsonschema

NAME = {"type": "string", "pattern": "^[-a-z0-9._/]+$"}
PACKAGE = {
    "type": "object",
    "required": ["resources"],
    "properties": {
        "$schema": {"const": "https://datapackage.org/profiles/2.0/datapackage.json"},
        "name": NAME,
        "created": {"type": "string", "format": "date-time"},
        "resources": {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "required": ["name", "path", "schema"],
                "properties": {
                    "$schema": {"const": "https://datapackage.org/profiles/2.0/dataresource.json"},
                    "name": NAME,
                    "path": {"type": "string", "pattern": r"^(?=^[^./~])(^((?!\.{2}).)*$).*$"},
                    "type": {"const": "table"},
                    "schema": {
                        "type": "object",
                        "required": ["fields"],
                        "properties": {
                            "$schema": {"const": "https://datapackage.org/profiles/2.0/tableschema.json"},
                            "fields": {
                                "type": "array",
                                "minItems": 1,
                                "items": {
                                    "type": "object",
                                    "required": ["name"],
                                    "properties": {
                                        "name": {"type": "string"},
                                        "type": {"enum": ["string", "number", "integer", "date"]},
                                    },
                                },
                            },
                            "primaryKey": {"type": "array", "items": {"type": "string"}},
                            "foreignKeys": {
                                "type": "array",
                                "items": {"type": "object", "required": ["fields", "reference"]},
                            },
                        },
                    },
                },
            },
        },
    },
}
_CASTS: Mapping[str, Callable[[str], Any]] = {
    "string": str,
    "number": float,
    "integer": int,
    "date": date.fromisoformat,
}
Rows = list[dict[str, Any]]


def read(files: Mapping[str, str]) -> dict[str, Rows]:
    """Every table with its values cast; an assertion names what breaks the rules."""
    package = json.loads(files["datapackage.json"])
    jsonschema.validate(package, PACKAGE)
    tables = {one["name"]: _table(one, files[one["path"]]) for one in package["resources"]}
    assert len(tables) == len(package["resources"]), "names of resources are unique"
    for one in package["resources"]:
        for key in one["schema"].get("foreignKeys", []):
            (here,), (there,) = key["fields"], key["reference"]["fields"]
            known = {row[there] for row in tables[key["reference"]["resource"]]}
            assert {row[here] for row in tables[one["name"]]} <= known, (
                f"{one['name']}.{here} refers to nothing"
            )
    return tables


def _table(resource: Mapping[str, Any], text: str) -> Rows:
    described = resource["schema"]["fields"]
    head, *lines = csv.reader(io.StringIO(text, newline=""))
    assert head == [one["name"] for one in described], f"{resource['name']}: the header is not the schema's"
    rows = []
    for line in lines:
        assert len(line) == len(head), f"{resource['name']}: {line}"
        rows.append({one["name"]: _value(one, cell) for one, cell in zip(described, line, strict=True)})
    for column in resource["schema"].get("primaryKey", []):
        assert len({row[column] for row in rows}) == len(rows), f"{resource['name']}.{column} is not unique"
    return rows


def _value(described: Mapping[str, Any], cell: str) -> Any:
    rules, where = described.get("constraints", {}), f"{described['name']}: {cell!r}"
    if not cell:
        assert not rules.get("required"), f"{where} is required"
        return None
    value = _CASTS[described["type"]](cell)
    assert described["type"] != "number" or re.fullmatch(r"-?\d+(\.\d+)?([eE][-+]?\d+)?", cell), where
    assert "minimum" not in rules or value >= rules["minimum"], where
    assert "maximum" not in rules or value <= rules["maximum"], where
    assert "enum" not in rules or value in rules["enum"], where
    return value
