"""What each property of the interface is: one sentence a name, and the unit that the name ends on."""

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

import marshmallow as ma

UNITS: Mapping[str, str] = {
    "_kg_per_minute": "kg/min",
    "_lb_per_minute": "lb/min",
    "_per_kg": "per kg",
    "_per_lb": "per lb",
    "_in_hg": "inHg",
    "_in": "in",
    "_kpa": "kPa",
    "_psi": "psi",
    "_pa": "Pa",
    "_kg": "kg",
    "_lb": "lb",
    "_ft3": "ft³",
    "_m3": "m³",
    "_c": "°C",
    "_f": "°F",
    "_k": "K",
    "_m": "m",
    "_s": "s",
}
"""Unit by the end of a name; longer ends first."""


@cache
def sentences() -> Mapping[str, str]:
    """What each name means; ``Schema.name`` where one schema means something else by it."""
    text = (files("service.api.http") / "data" / "properties.csv").read_text(encoding="utf-8")
    return {row["name"]: row["description"] for row in csv.DictReader(text.splitlines())}


def meaning(schema: str, name: str) -> tuple[str, str] | None:
    """The entry of a property, and what it says, with its unit."""
    base = name.removesuffix(_ending(name))
    for key in (f"{schema}.{name}", f"{schema}.{base}", name, base):
        if key in sentences():
            return key, with_unit(name, sentences()[key])
    return None


def with_unit(name: str, words: str) -> str:
    """What is said of a property, with the unit that its name ends on where it says none."""
    ending = _ending(name)
    return f"{words} [{UNITS[ending]}]" if ending and "[" not in words else words


def describe(_: object, field: ma.fields.Field[Any], **__: object) -> dict[str, str]:
    """The description of a field, for the document; what it states itself comes first."""
    parent = getattr(field, "parent", None)
    if not isinstance(parent, ma.Schema) or not field.name:
        return {}
    schema, name = type(parent).__name__.removesuffix("Schema"), field.data_key or field.name
    if "description" in field.metadata:
        return {"description": with_unit(name, field.metadata["description"])}
    found = meaning(schema, name)
    return {} if found is None else {"description": found[1]}


def _ending(name: str) -> str:
    return next((end for end in UNITS if name.endswith(end)), "")
