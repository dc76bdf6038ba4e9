"""What each property of the interface is: one sentence a name, the unit that the name ends on, and an example."""

import csv
import json
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
def collected() -> Mapping[str, Any]:
    """Examples by ``Schema.name``, as the service answered them (``tests.support.property_examples``)."""
    return _read("examples.json")


@cache
def by_hand() -> Mapping[str, Any]:
    """Examples by name, or by ``Schema.name``, of what no answer had one of."""
    return _read("examples_by_name.json")


def _read(name: str) -> Mapping[str, Any]:
    text = (files("service.api.http") / "data" / name).read_text(encoding="utf-8")
    told: Mapping[str, Any] = json.loads(text)
    return told


def example_of(schema: str, name: str, field: ma.fields.Field[Any]) -> list[Any]:
    """One example of a property; none where its members have theirs."""
    full = f"{schema}.{name}"
    if full in collected():
        return [collected()[full]]
    if isinstance(field, ma.fields.List) and "enum" in field.inner.metadata:
        return [[next(iter(field.inner.metadata["enum"]))]]
    options = field.metadata.get("enum") or _choices(field)
    if options:
        return [next(iter(options))]
    for kind, usual in USUAL:
        if isinstance(field, kind):
            return [usual]
    return [by_hand()[key] for key in (full, name) if key in by_hand()][:1]


def _choices(field: ma.fields.Field[Any]) -> list[Any]:
    return [choice for check in field.validators for choice in getattr(check, "choices", ())]


USUAL: tuple[tuple[type[ma.fields.Field[Any]], object], ...] = (
    (ma.fields.DateTime, "2026-05-04T13:30:00Z"),
    (ma.fields.Date, "2026-05-04"),
    (ma.fields.Boolean, True),
)
"""What is alike everywhere, by kind of field."""


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


def describe(_: object, field: ma.fields.Field[Any], **__: object) -> dict[str, Any]:
    """The description and example of a field, for the document; what it states itself comes first."""
    parent = getattr(field, "parent", None)
    if not isinstance(parent, ma.Schema) or not field.name:
        return {}
    schema, name = type(parent).__name__.removesuffix("Schema"), field.data_key or field.name
    shown = example_of(schema, name, field)
    examples: dict[str, Any] = {"examples": shown} if shown else {}
    if "description" in field.metadata:
        return {"description": with_unit(name, field.metadata["description"]), **examples}
    found = meaning(schema, name)
    return examples if found is None else {"description": found[1], **examples}


def _ending(name: str) -> str:
    return next((end for end in UNITS if name.endswith(end)), "")
