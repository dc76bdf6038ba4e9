"""A mapping: data that say where a foreign message has its device, time and values, and in which units.

The worker reads by it; here it is checked and tried before it is kept. Both have code of their own: they are upgraded
one after the other and bound by HTTP alone, so a package that both import would be two versions all the same, and the
worker must judge what it is given whoever checked it before. A contract test has both decide alike on documents and
messages of any shape. Paths are JMESPath expressions into one record; `topic.NAME` is a named level of the topic.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jmespath.exceptions import JMESPathError

from service.mappings.expressions import Expression, compiled
from service.mappings.units import UNITS

TIME_FORMS = ("unix", "unix-ms", "rfc3339", "arrival")
LONGEST_TEXT, MOST_VALUES = 400, 40
"""Of a name, a topic or a path, [characters]; of the values of one mapping."""
LEVEL = re.compile(r"\{([a-z][a-z0-9_]*)\}").fullmatch
_NAME = re.compile(r"[a-z0-9][a-z0-9-]{0,63}").fullmatch
_KEYS = frozenset(("name", "topic", "each", "device", "place", "time", "value"))
Document = Mapping[str, Any]


class FaultyMapping(ValueError):
    """A mapping is faulty; field, value and expectation are told."""

    def __init__(self, field: str, value: object, expected: str) -> None:
        self.field, self.value, self.expected = field, str(value)[:100], expected
        super().__init__(f"{field}: {self.value!r}, expected {expected}")


@dataclass(frozen=True, slots=True)
class Path:
    """A JMESPath expression, or the name of a topic's level."""

    text: str
    level: str | None
    expression: Expression | None

    def find(self, record: object, levels: Mapping[str, str]) -> Any:
        """What the path finds, or None; raises JMESPathError for what a function does not take."""
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
    levels: tuple[str, ...]
    each: Path
    device: Path
    place: Path
    time: Path | None
    time_form: str
    values: tuple[Value, ...]

    def match(self, topic: str) -> dict[str, str] | None:
        """The named levels of a topic, or None if it is another one."""
        given = topic.split("/")
        if len(given) != len(self.levels):
            return None
        named: dict[str, str] = {}
        for level, word in zip(self.levels, given, strict=True):
            name = LEVEL(level)
            if name:
                named[name[1]] = word
            elif level != word:
                return None
        return named


def parse(document: object) -> MessageMapping:
    """
    Check one mapping.

    Parameters
    ----------
    document
        The fields of one `[[mapping]]` table.

    Returns
    -------
    MessageMapping
        The mapping, its paths compiled.

    Raises
    ------
    FaultyMapping
        The first fault.
    """
    fields = _keys("mapping", document, _KEYS)
    name = _text("name", fields.get("name"))
    if not _NAME(name):
        raise FaultyMapping("name", name, "small letters, digits and hyphens, up to 64")
    levels = _levels(fields.get("topic"))
    names = {found[1] for found in map(LEVEL, levels) if found}
    if "place" not in fields and "place" not in names:
        raise FaultyMapping("place", None, "a path, or a level {place} in the topic")
    form, time = _time(fields.get("time", {"form": "arrival"}), names)
    return MessageMapping(
        name,
        levels,
        _path("each", fields.get("each", "@"), set()),
        _path("device", fields.get("device", "topic.device"), names),
        _path("place", fields.get("place", "topic.place"), names),
        time,
        form,
        _values(fields.get("value"), names),
    )


def _keys(at: str, item: object, known: frozenset[str]) -> dict[str, Any]:
    if not isinstance(item, dict):
        raise FaultyMapping(at, item, "a table of fields")
    for key in item:
        if key not in known:
            raise FaultyMapping(f"{at}.{key}", item[key], f"one of {', '.join(sorted(known))}")
    return item


def _text(at: str, value: object) -> str:
    if (
        not isinstance(value, str)
        or not value.strip()
        or len(value) > LONGEST_TEXT
        or not value.isprintable()
    ):
        raise FaultyMapping(at, value, f"text of up to {LONGEST_TEXT} characters")
    return value


def _levels(value: object) -> tuple[str, ...]:
    text = _text("topic", value)
    levels = tuple(text.split("/"))
    for level in levels:
        if not level or (set(level) & set("+#{}") and not LEVEL(level)):
            raise FaultyMapping(
                "topic", text, "levels that are words or a {name} in lower case, without + and #"
            )
    named = [level for level in levels if LEVEL(level)]
    if len(set(named)) != len(named):
        raise FaultyMapping("topic", text, "each {name} once")
    if LEVEL(levels[0]) or levels[0].startswith("$"):
        raise FaultyMapping("topic", text, "a first level that is a word")
    return levels


def _path(at: str, value: object, names: set[str]) -> Path:
    text = _text(at, value)
    head, dot, level = text.partition(".")
    if head == "topic" and dot:
        if level not in names:
            raise FaultyMapping(at, text, f"one of the topic's levels: {', '.join(sorted(names)) or 'none'}")
        return Path(text, level, None)
    try:
        return Path(text, None, compiled(text))
    except JMESPathError as error:
        told = " ".join(str(error).split())[:120]
        raise FaultyMapping(at, text, f"a JMESPath expression ({told})") from error


def _time(value: object, names: set[str]) -> tuple[str, Path | None]:
    fields = _keys("time", value, frozenset(("path", "form")))
    form = fields.get("form")
    if form not in TIME_FORMS:
        raise FaultyMapping("time.form", form, f"one of {', '.join(TIME_FORMS)}")
    if form != "arrival":
        return form, _path("time.path", fields.get("path"), names)
    if "path" in fields:
        raise FaultyMapping("time.path", fields["path"], "no path with the form arrival")
    return form, None


def _values(items: object, names: set[str]) -> tuple[Value, ...]:
    if not isinstance(items, Sequence) or isinstance(items, str) or not 0 < len(items) <= MOST_VALUES:
        raise FaultyMapping("value", items, f"a list with one to {MOST_VALUES} values")
    return tuple(_value(f"value[{number}]", item, names) for number, item in enumerate(items))


def _value(at: str, item: object, names: set[str]) -> Value:
    fields = _keys(at, item, frozenset(("quantity", "path", "unit", "unit_path")))
    quantity = fields.get("quantity")
    if not isinstance(quantity, str) or quantity not in UNITS:
        raise FaultyMapping(f"{at}.quantity", quantity, f"one of {', '.join(UNITS)}")
    path = _path(f"{at}.path", fields.get("path"), names)
    if ("unit" in fields) == ("unit_path" in fields):
        raise FaultyMapping(f"{at}.unit", fields.get("unit"), "either unit or unit_path")
    if "unit_path" in fields:
        return Value(quantity, path, None, _path(f"{at}.unit_path", fields["unit_path"], names))
    unit = fields["unit"]
    if not isinstance(unit, str) or unit not in UNITS[quantity]:
        raise FaultyMapping(f"{at}.unit", unit, f"one of {', '.join(UNITS[quantity])}")
    return Value(quantity, path, unit, None)
