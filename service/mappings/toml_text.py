"""A mapping as the TOML text that a person edits, and back."""

import json
import tomllib
from typing import Any

from service.mappings.mapping import Document, FaultyMapping

ORDER = ("name", "topic", "each", "device", "place", "time")


def written(document: Document) -> str:
    """A checked mapping as TOML; reading it gives the same document."""
    lines = ["[[mapping]]"]
    lines += [f"{key} = {_inline(document[key])}" for key in ORDER if key in document]
    for value in document.get("value", ()):
        lines += ["", "[[mapping.value]]", *(f"{key} = {_inline(text)}" for key, text in value.items())]
    return "\n".join([*lines, ""])


def documents(text: str) -> list[dict[str, Any]]:
    """The mappings of a TOML text, unchecked; raises FaultyMapping where it is none."""
    try:
        items = tomllib.loads(text).get("mapping")
    except (ValueError, RecursionError) as error:
        raise FaultyMapping("file", str(error), "TOML") from error
    if not isinstance(items, list) or not items or not all(isinstance(item, dict) for item in items):
        raise FaultyMapping("mapping", items, "at least one [[mapping]]")
    return items


def _inline(value: object) -> str:
    """A text or a table of texts; JSON writes a text as TOML's basic strings have it."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(one)}" for key, one in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)
