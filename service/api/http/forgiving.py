"""A schema that leaves out what is faulty and takes the rest, for what must not be lost for one odd value."""

from collections.abc import Iterator, Mapping
from typing import Any

import marshmallow as ma

from service.api.http.problems import Fault, flattened
from service.api.http.strict import Strict

Path = tuple[Any, ...]


class Forgiving(Strict):
    """
    Loads whatever is good of a body, and under ``refused`` lists each fault: field, value and expectation.

    The deepest part that can be done without is left out: a value, else the item that needs it. Refused as a whole is
    only what is no object.
    """

    def load(self, data: Any, **options: Any) -> Any:
        """Load a body; raises ValidationError if nothing is left of it."""
        refused: list[Fault] = []
        while True:
            try:
                return self.built({**ma.Schema.load(self, data, **options), "refused": refused})
            except ma.ValidationError as error:
                data = without(data, error.messages)
                if data is None:
                    raise
                # All faults are told by the first pass; the next ones meet what the removals have left.
                refused = refused or [*flattened(error.messages)]

    def loaded_names(self) -> dict[str, bool]:
        """The same, with the faults."""
        return {**super().loaded_names(), "refused": True}


def without(body: Any, messages: Any) -> Any:
    """
    What is left of a body without its faulty parts.

    Parameters
    ----------
    body
        JSON as it came.
    messages
        Marshmallow's messages, nested like the body.

    Returns
    -------
    Any
        A copy that lacks the deepest part there is at each fault, and where a fault is that something is missing,
        what should have held it; None where that is all.
    """
    faulty = {_existing(body, path) for path in _paths(messages)}
    return None if not faulty or () in faulty else _left(body, faulty)


def _paths(messages: Any, before: Path = ()) -> Iterator[Path]:
    if not isinstance(messages, Mapping) or "expected" in messages:
        yield before
        return
    for name, inner in messages.items():
        yield from _paths(inner, before if name == "_schema" else (*before, name))


def _existing(body: Any, path: Path) -> Path:
    """Return as much of a path as there is of it in a body; one that misses a part ends before it."""
    reached = body
    for depth, name in enumerate(path):
        inside = isinstance(reached, dict) and name in reached
        if not inside and not (isinstance(reached, list) and isinstance(name, int) and name < len(reached)):
            return path[:depth]
        reached = reached[name]
    return path


def _left(body: Any, faulty: set[Path], at: Path = ()) -> Any:
    if isinstance(body, dict):
        return {
            name: _left(inner, faulty, (*at, name))
            for name, inner in body.items()
            if (*at, name) not in faulty
        }
    if isinstance(body, list):
        inside = enumerate(body)
        return [_left(inner, faulty, (*at, n)) for n, inner in inside if (*at, n) not in faulty]
    return body
