"""The stored form of a verdict: plain JSON with a version number, and back again, older versions included."""

from __future__ import annotations

import math
import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from service.verdict.model import Identity, Verdict

Json = dict[str, Any]

VERSION = 2
"""1, which no document states: alternatives to the next measurement were pairs of text and bits."""


class UnreadableDocument(ValueError):
    """A stored document that is no verdict; the message names the place, the value and what was expected."""


def to_json(verdict: Verdict) -> Json:
    """
    A verdict as plain data.

    Parameters
    ----------
    verdict : Verdict
        In SI.

    Returns
    -------
    dict
        Of text, numbers, lists and dicts; a number that is not finite becomes None.
    """
    return {"version": VERSION, **plain(verdict)}


def from_json(document: Mapping[str, Any]) -> Verdict:
    """
    The verdict that a document holds.

    Parameters
    ----------
    document : Mapping
        As `to_json` made it, now or in an older version. What is not known here is passed over, so that documents of
        a newer version can be read as well.

    Returns
    -------
    Verdict
        In SI.

    Raises
    ------
    UnreadableDocument
        Naming the place, the value and what was expected.
    """
    version = document.get("version", 1)
    if not isinstance(version, int) or version < 1:
        raise UnreadableDocument(f"version: got {version!r}, expected a whole number from 1")
    for upgrade in _UPGRADES[version - 1 :]:
        document = upgrade(document)
    verdict: Verdict = _reader(Verdict)(document, "")
    return verdict


def identity_from_json(part: Mapping[str, Any]) -> Identity:
    """The identity alone, of a document of any version; raises `UnreadableDocument`."""
    identity: Identity = _reader(Identity)(part, "identity")
    return identity


_ALTERNATIVES = {
    "Repeat": "repeat",
    "Warm": "warm",
    "Cool": "cool",
    "Read again with a thermometer": "better-thermometer",
    "Zero": "zero-gauge",
    "Weigh": "weigh",
}


def _from_1(document: Mapping[str, Any]) -> Mapping[str, Any]:
    following = document.get("next_measurement")
    if not isinstance(following, Mapping):
        return document
    alternatives = [
        {"code": _code_of(text), "action": text, "temp_k": None, "expected_information_bits": bits}
        for text, bits in following.get("alternatives", ())
    ]
    return {**document, "next_measurement": {**following, "alternatives": alternatives}}


def _code_of(text: str) -> str:
    return next((code for start, code in _ALTERNATIVES.items() if text.startswith(start)), "other")


_UPGRADES: tuple[Callable[[Mapping[str, Any]], Mapping[str, Any]], ...] = (_from_1,)
"""From each version to the next."""


def plain(value: Any) -> Any:
    """Dataclasses, mappings and numbers of any kind as JSON can hold them."""
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if is_dataclass(value):
        return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return plain(value.item())


Reader = Callable[[Any, str], Any]


@cache
def _reader(kind: Any) -> Reader:
    """What turns plain data into one type of the model, or says where it cannot."""
    origin, arguments = get_origin(kind), get_args(kind)
    if origin in (Union, types.UnionType):
        (one,) = (argument for argument in arguments if argument is not type(None))
        return _optional(_reader(one))
    if origin is tuple:
        return _tuple(arguments)
    if origin is Mapping:
        return _mapping(_reader(arguments[1]))
    if is_dataclass(kind):
        return _record(kind)
    return _scalar(kind)


def _refuse(where: str, value: Any, expected: str) -> UnreadableDocument:
    return UnreadableDocument(f"{where or 'document'}: got {value!r}, expected {expected}")


def _optional(reader: Reader) -> Reader:
    return lambda value, where: None if value is None else reader(value, where)


def _tuple(arguments: tuple[Any, ...]) -> Reader:
    reader = _reader(arguments[0])

    def read(value: Any, where: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise _refuse(where, value, "a list")
        return tuple(reader(item, f"{where}.{index}") for index, item in enumerate(value))

    return read


def _mapping(reader: Reader) -> Reader:
    def read(value: Any, where: str) -> dict[str, Any]:
        if not isinstance(value, Mapping):
            raise _refuse(where, value, "an object")
        return {str(key): reader(item, f"{where}.{key}") for key, item in value.items()}

    return read


def _scalar(kind: type) -> Reader:
    def read(value: Any, where: str) -> Any:
        number = kind is float and isinstance(value, int) and not isinstance(value, bool)
        if not isinstance(value, kind) and not number:
            raise _refuse(where, value, f"a {kind.__name__}")
        return float(value) if kind is float else value

    return read


def _record(kind: Any) -> Reader:
    hints = get_type_hints(kind)
    readers = {field.name: _reader(hints[field.name]) for field in fields(kind)}
    needed = {
        field.name for field in fields(kind) if field.default is MISSING and field.default_factory is MISSING
    }

    def read(value: Any, where: str) -> Any:
        if not isinstance(value, Mapping):
            raise _refuse(where, value, "an object")
        if missing := needed - value.keys():
            raise _refuse(where, sorted(value), f"also {', '.join(sorted(missing))}")
        inside = f"{where}." if where else ""
        known = readers.keys() & value.keys()
        return kind(**{name: readers[name](value[name], f"{inside}{name}") for name in known})

    return read
