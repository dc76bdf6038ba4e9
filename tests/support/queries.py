"""Counting and reading the statements that code sends."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event


@contextmanager
def recorded(engine: sa.Engine) -> Iterator[list[str]]:
    """The statements sent within the block; transaction control left out."""
    statements: list[str] = []

    def note(_conn: Any, _cursor: Any, statement: str, *_: Any) -> None:
        if not statement.startswith(("BEGIN", "PRAGMA", "SAVEPOINT", "RELEASE")):
            statements.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield statements
    finally:
        event.remove(engine, "before_cursor_execute", note)


@contextmanager
def transactions(engine: sa.Engine) -> Iterator[list[str]]:
    """One entry for each transaction begun within the block, reading or writing."""
    begun: list[str] = []

    def note(_connection: sa.Connection) -> None:
        begun.append("begin")

    event.listen(engine, "begin", note)
    try:
        yield begun
    finally:
        event.remove(engine, "begin", note)
