"""Mappings: data that say where a foreign JSON message has its device, time and values, and in which units.

A file has a list `mapping`. Paths are JMESPath expressions into one record; `topic.NAME` is a named level of the topic.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from jmespath.exceptions import JMESPathError

from ingest.wire.expressions import Expression, compiled
from ingest.wire.reading import QUANTITIES
from ingest.wire.units import UNITS

OWN_LEVELS, READINGS = 4, "readings"
"""Of the worker's own topics, `root/place/readings/device`: a mapping may read what is no SenML there."""
TIME_FORMS = ("unix", "unix-ms", "rfc3339", "arrival")
_LEVEL = re.compile(r"\{([a-z][a-z0-9_]*)\}").fullmatch
_KEYS = {"name", "topic", "each", "device", "place", "time", "value"}


class BadMapping(ValueError):
    """A mapping is faulty; the message names field, value and expectation."""

    def __init__(self, field: str, value: object, expected: str) -> None:
        super().__init__(f"{field}: {str(value)[:100]!r}, expected {expected}")


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic's levels: fixed words, and names in braces for what varies.

    Parameters
    ----------
    levels : tuple of str
        Levels as they are written.
    is_own : bool
        Whether it is of the worker's own topics, which are subscribed to anyway.
    """

    levels: tuple[str, ...]
    is_own: bool = False

    def filter(self, place: str | None = None) -> str:
        """Return the MQTT filter, of one place if it is given and the topic names it."""
        return "/".join(self._filtered(level, place) for level in self.levels)

    @staticmethod
    def _filtered(level: str, place: str | None) -> str:
        if not _LEVEL(level):
            return level
        return place if place is not None and level == "{place}" else "+"

    def match(self, topic: str) -> dict[str, str] | None:
        """Return the named levels of a topic, or None if it is another one."""
        given = topic.split("/")
        if len(given) != len(self.levels):
            return None
        named: dict[str, str] = {}
        for level, word in zip(self.levels, given, strict=True):
            name = _LEVEL(level)
            if name:
                named[name[1]] = word
            elif level != word:
                return None
        return named


@dataclass(frozen=True, slots=True)
class Path:
    """A JMESPath expression, or the name of a topic's level.

    Parameters
    ----------
    text : str
        The expression.
    level : str or None
        The topic's level that it names.
    expression : Expression or None
        The compiled expression, if it is one.
    """

    text: str
    level: str | None
    expression: Expression | None

    def find(self, record: object, levels: dict[str, str]) -> Any:
        """Return what the path finds, or None; raises JMESPathError for what a function does not take."""
        return self.expression.search(record) if self.expression else levels.get(self.level or "")


@dataclass(frozen=True, slots=True)
class Value:
    """Where one quantity is: `unit` is a UCUM code, or `unit_path` leads to one."""

    quantity: str
    path: Path
    unit: str | None
    unit_path: Path | None


@dataclass(frozen=True, slots=True)
class MessageMapping:
    """How the messages of one shape are read; `time` is None where the arrival counts."""

    name: str
    topic: Topic
    each: Path
    device: Path
    place: Path
    time: Path | None
    time_form: str
    values: tuple[Value, ...]
    version: int = 0
    """Counts from 1 where the service keeps the mapping; 0 is of a file."""

    @property
    def label(self) -> str:
        """Name and version, by which it is known whether a message was tried with this very mapping."""
        return f"{self.name} {self.version}"


def parse(text: str, *, toml: bool, root: str) -> tuple[MessageMapping, ...]:
    """Parse the text of a file of mappings.

    Parameters
    ----------
    text : str
        TOML or JSON.
    toml : bool
        Whether it is TOML.
    root : str
        First level of the worker's own topics, which no mapping may read.

    Returns
    -------
    tuple of MessageMapping
        The mappings, in the order of the file.

    Raises
    ------
    BadMapping
        The first fault, by field, value and expectation.
    """
    try:
        document = tomllib.loads(text) if toml else json.loads(text)
    except (ValueError, RecursionError) as error:
        raise BadMapping("file", str(error), "TOML" if toml else "JSON") from error
    _keys("file", document, {"mapping"})
    items = document.get("mapping")
    if not isinstance(items, list) or not items:
        raise BadMapping("mapping", items, "a list with at least one mapping")
    return tuple(_mapping(f"mapping[{n}]", item, root) for n, item in enumerate(items))


def kept_mappings(items: Iterable[Mapping[str, Any]], root: str) -> tuple[list[MessageMapping], list[str]]:
    """Return the mappings of items of `GET /mappings`, and of each that is faulty its name and what is wrong."""
    found: list[MessageMapping] = []
    faults: list[str] = []
    for item in items:
        try:
            mapping = _mapping("mapping", item["mapping"], root)
            found.append(replace(mapping, name=str(item["name"]), version=int(item["version"])))
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            faults.append(f"mapping {str(item)[:120]}: {error}")
    return found, faults


def check_names(mappings: Iterable[MessageMapping]) -> None:
    """Raise BadMapping if two mappings have one name, by which they are told apart."""
    seen: set[str] = set()
    for mapping in mappings:
        if mapping.name in seen:
            raise BadMapping("mapping.name", mapping.name, "a name that no other mapping has")
        seen.add(mapping.name)


def _mapping(at: str, item: object, root: str) -> MessageMapping:
    fields = _keys(at, item, _KEYS)
    topic = _topic(f"{at}.topic", fields.get("topic"), root)
    names = {name[1] for name in map(_LEVEL, topic.levels) if name}
    place = fields.get("place", "topic.place")
    if "place" not in fields and "place" not in names:
        raise BadMapping(f"{at}.place", None, "a path, or a level {place} in the topic")
    form, time = _time(f"{at}.time", fields.get("time", {"form": "arrival"}), names)
    values = fields.get("value")
    if not isinstance(values, list) or not values:
        raise BadMapping(f"{at}.value", values, "a list with at least one value")
    return MessageMapping(
        _text(f"{at}.name", fields.get("name")),
        topic,
        _path(f"{at}.each", fields.get("each", "@"), set()),
        _path(f"{at}.device", fields.get("device", "topic.device"), names),
        _path(f"{at}.place", place, names),
        time,
        form,
        tuple(_value(f"{at}.value[{n}]", value, names) for n, value in enumerate(values)),
    )


def _keys(at: str, item: object, known: set[str]) -> dict[str, Any]:
    if not isinstance(item, dict):
        raise BadMapping(at, item, "a table of fields")
    for key in item:
        if key not in known:
            raise BadMapping(f"{at}.{key}", item[key], f"one of {', '.join(sorted(known))}")
    return item


def _text(at: str, value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise BadMapping(at, value, "text")
    return value


def _topic(at: str, value: object, root: str) -> Topic:
    text = _text(at, value)
    levels = tuple(text.split("/"))
    for level in levels:
        if not level or (set(level) & set("+#{}") and not _LEVEL(level)):
            raise BadMapping(at, text, "levels that are words or a {name} in lower case, without + and #")
    names = [level for level in levels if _LEVEL(level)]
    if len(set(names)) != len(names):
        raise BadMapping(at, text, "each {name} once")
    if _LEVEL(levels[0]) or levels[0].startswith("$"):
        raise BadMapping(at, text, "a first level that is a word")
    # What the worker publishes itself is below its root: read again it would go round for ever.
    if levels[0] == root and (len(levels) != OWN_LEVELS or levels[2] != READINGS):
        raise BadMapping(at, text, f"below {root!r} nothing but {root}/PLACE/{READINGS}/DEVICE")
    return Topic(levels, levels[0] == root)


def _path(at: str, value: object, names: set[str]) -> Path:
    text = _text(at, value)
    head, dot, level = text.partition(".")
    if head == "topic" and dot:
        if level not in names:
            raise BadMapping(at, text, f"one of the topic's levels: {', '.join(sorted(names)) or 'none'}")
        return Path(text, level, None)
    try:
        return Path(text, None, compiled(text))
    except JMESPathError as error:
        raise BadMapping(at, text, f"a JMESPath expression ({' '.join(str(error).split())[:120]})") from error


def _time(at: str, value: object, names: set[str]) -> tuple[str, Path | None]:
    fields = _keys(at, value, {"path", "form"})
    form = fields.get("form")
    if form not in TIME_FORMS:
        raise BadMapping(f"{at}.form", form, f"one of {', '.join(TIME_FORMS)}")
    if form == "arrival":
        if "path" in fields:
            raise BadMapping(f"{at}.path", fields["path"], "no path with the form arrival")
        return form, None
    return form, _path(f"{at}.path", fields.get("path"), names)


def _value(at: str, item: object, names: set[str]) -> Value:
    fields = _keys(at, item, {"quantity", "path", "unit", "unit_path"})
    quantity = fields.get("quantity")
    if quantity not in QUANTITIES:
        raise BadMapping(f"{at}.quantity", quantity, f"one of {', '.join(QUANTITIES)}")
    path = _path(f"{at}.path", fields.get("path"), names)
    if ("unit" in fields) == ("unit_path" in fields):
        raise BadMapping(f"{at}.unit", fields.get("unit"), "either unit or unit_path")
    if "unit_path" in fields:
        return Value(quantity, path, None, _path(f"{at}.unit_path", fields["unit_path"], names))
    if fields["unit"] not in UNITS[quantity]:
        raise BadMapping(f"{at}.unit", fields["unit"], f"one of {', '.join(UNITS[quantity])}")
    return Value(quantity, path, fields["unit"], None)
