"""JMESPath expressions that end: none makes more of a message than a bounded multiple, or fails but as it says.

The worker has the same rules; a contract test binds them.
"""

import math
from dataclasses import dataclass
from typing import Any

import jmespath
from jmespath.exceptions import JMESPathError

MOST_GROWTH = 64
"""An expression makes at most so many times what it reads (a choice) [-]."""
ESCAPES = 6
"""What `to_string` may make of one character, such as \\u0001 (RFC 8259, section 7) [-]."""


@dataclass(frozen=True, slots=True)
class Expression:
    """A compiled expression."""

    parsed: Any

    def search(self, record: object) -> Any:
        """What it finds in a record, or None; raises JMESPathError for whatever it cannot do with it."""
        try:
            return self.parsed.search(record)
        except JMESPathError:
            raise
        except (ArithmeticError, AttributeError, RecursionError, TypeError, ValueError) as error:
            raise JMESPathError(f"{type(error).__name__}: {error}") from error


def compiled(text: str) -> Expression:
    """
    Compile an expression.

    Parameters
    ----------
    text
        As it is written in a mapping.

    Raises
    ------
    JMESPathError
        It is none, is nested too deeply, or could make too much of a message.
    """
    try:
        parsed = jmespath.compile(text)
        growth = _growth(parsed.parsed)
    except RecursionError as error:
        raise JMESPathError("nested too deeply") from error
    if growth > MOST_GROWTH:
        raise JMESPathError(f"could make {growth} times what it reads, expected at most {MOST_GROWTH}")
    return Expression(parsed)


def _growth(node: Any) -> int:
    """By how much an expression may multiply what it reads, at most [-]."""
    parts = [_growth(child) for child in node["children"]]
    if node["type"] in ("multi_select_list", "multi_select_dict"):
        return max(1, sum(parts))
    called = node["value"] if node["type"] == "function_expression" else None
    if called == "join" and node["children"] and node["children"][0]["type"] != "literal":
        # It stands between all members of a list, and both would be the sender's.
        raise JMESPathError("join(...) takes a text of the mapping's own first, such as '-'")
    return math.prod(parts) * (ESCAPES if called == "to_string" else 1)
