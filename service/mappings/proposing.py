"""What a message that nobody can read might mean: its numbers with a path to each, and a guess to begin from.

Guesses rest on words that makers use in names (common practice, no source); a person says what is true.
"""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from service.mappings.units import UNITS

MOST_LEAVES, MOST_DEPTH, LONGEST_SHOWN = 120, 10, 80
_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_]*").fullmatch
_NAMES = ("name", "n", "key", "id", "type", "datastream", "sensor", "channel", "label", "quantity")
"""Fields that tell the members of a list apart, the likeliest first."""
_UNIT_NAMES = ("unit", "units", "u", "uom", "unit_of_measurement")
_QUANTITIES = (
    (r"batt|soc\b|charge", "battery"),
    (r"baro|atmos|ambient.?p|air.?p", "ambient-pressure"),
    (r"abs", "absolute-pressure"),
    (r"press|psi|kpa|\bbar\b|\bp\b", "gauge-pressure"),
    (r"ambient|\bair\b|room|outdoor", "ambient-temperature"),
    (r"temp|celsius|fahrenheit|\bt\b|degc|degf|clamp", "wall-temperature"),
    (r"mass|weight|scale|\bkg\b|\blb\b", "mass"),
)
_UNITS = (
    (r"psi", "[psi]"),
    (r"mpa\b", "MPa"),
    (r"kpa", "kPa"),
    (r"hpa", "hPa"),
    (r"mbar", "mbar"),
    (r"\bbar", "bar"),
    (r"inhg", "[in_i'Hg]"),
    (r"mmhg", "mm[Hg]"),
    (r"\bpa\b", "Pa"),
    (r"degf|fahr|°f|\bf\b", "[degF]"),
    (r"degc|cels?\b|°c|\bc\b", "Cel"),
    (r"kelvin|\bk\b", "K"),
    (r"\bkg|kilogram", "kg"),
    (r"\blbs?\b|pound", "[lb_av]"),
    (r"\boz\b|ounce", "[oz_av]"),
    (r"%|percent", "%"),
)


@dataclass(frozen=True, slots=True)
class Leaf:
    """
    A number or text of a message.

    Parameters
    ----------
    path
        JMESPath from the message to it.
    shown
        Its value as a person sees it.
    number
        The value where it is a number, or a text that is one.
    is_text
        Whether the message has it as text.
    words
        Names on the way to it and its declared unit, for guessing.
    depth
        How deep it is in the tree.
    """

    path: str
    shown: str
    number: float | None
    is_text: bool
    words: str
    depth: int


@dataclass(frozen=True, slots=True)
class Guess:
    """A quantity and a UCUM unit that a number may have; empty where nothing speaks for one."""

    quantity: str = ""
    unit: str = ""


def leaves(document: object) -> list[Leaf]:
    """The numbers and texts of a message in its own order, at most ``MOST_LEAVES``."""
    found: list[Leaf] = []
    for leaf in _walk(document, "@", (), 0):
        found.append(leaf)
        if len(found) == MOST_LEAVES:
            break
    return found


def _walk(value: object, path: str, words: tuple[str, ...], depth: int) -> Iterable[Leaf]:
    if depth > MOST_DEPTH or value is None:
        return
    if isinstance(value, dict):
        unit = next((value[name] for name in _UNIT_NAMES if isinstance(value.get(name), str)), None)
        more = words if unit is None else (*words, unit)
        for key, inner in value.items():
            yield from _walk(inner, _joined(path, _quoted(key)), (*more, key), depth + 1)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            step, name = _member(value, place)
            yield from _walk(inner, step if path == "@" else path + step, (*words, name), depth + 1)
    else:
        yield Leaf(
            path, str(value)[:LONGEST_SHOWN], _number(value), isinstance(value, str), " ".join(words), depth
        )


def _member(items: list[object], place: int) -> tuple[str, str]:
    """The path to a member of a list, by its name where it has one of its own: an order may change."""
    one = items[place]
    if isinstance(one, dict):
        for key in _NAMES:
            name = one.get(key)
            named = [other for other in items if isinstance(other, dict) and other.get(key) == name]
            if isinstance(name, str) and len(named) == 1:
                return f"[?{_quoted(key)}=='{_escaped(name)}'] | [0]", name
    return f"[{place}]", ""


def _joined(path: str, key: str) -> str:
    return key if path == "@" else f"{path}.{key}"


def _quoted(key: str) -> str:
    return key if _PLAIN(key) else json.dumps(key)


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace("'", "\\'")


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    try:
        number = float(value)
    except (OverflowError, ValueError):
        return None
    return number if abs(number) < 1e300 else None


def guess(leaf: Leaf) -> Guess:
    """What a number may be by the names about it."""
    if leaf.number is None:
        return Guess()
    separated = re.sub(r"([a-z])([A-Z])", r"\1 \2", leaf.words)
    words = re.sub(r"[_\-./]+", " ", f"{leaf.words} {separated}").lower()
    quantity = next((name for pattern, name in _QUANTITIES if re.search(pattern, words)), "")
    if not quantity:
        return Guess()
    unit = next((u for pattern, u in _UNITS if u in UNITS[quantity] and re.search(pattern, words)), "")
    if quantity == "battery" and not unit:
        unit = "1" if 0.0 < leaf.number <= 1.0 else "%"
    return Guess(quantity, unit)


def time_form(leaf: Leaf, now_s: float) -> str:
    """The form of a time that a leaf may be, by lying within a week of now; empty if none."""
    week_s = 7 * 86400.0
    if leaf.is_text:
        dated = re.match(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d.*(Z|[+-]\d\d:?\d\d)$", leaf.shown)
        return "rfc3339" if dated else ""
    if leaf.number is None:
        return ""
    for form, seconds in (("unix", leaf.number), ("unix-ms", leaf.number / 1000.0)):
        if abs(seconds - now_s) < week_s:
            return form
    return ""


def path_of(leaf: Leaf) -> str:
    """The path by which a number is read: a text that is a number is made one."""
    return f"to_number({leaf.path})" if leaf.is_text else leaf.path


def fixed_place(name: str) -> str:
    """The path that gives a fixed text."""
    return f"'{_escaped(name)}'"


def topic_of(topic: str, roles: Mapping[int, str]) -> str:
    """A topic with levels named by what they are: `roles` gives ``device``, ``place`` or ``any`` by number."""
    levels = topic.split("/")
    named = [
        level
        if not roles.get(number)
        else "{%s}" % (f"any_{number}" if roles[number] == "any" else roles[number])
        for number, level in enumerate(levels)
    ]
    return "/".join(named)
