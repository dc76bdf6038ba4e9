"""Everything of one organisation as lines, in the order of tables and ids; goes on after any line."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.store import exports


@dataclass(frozen=True, slots=True)
class Mark:
    """A place between two lines: ``cylinders:12`` is after the cylinder of id 12."""

    table: str
    id: int

    def __str__(self) -> str:
        """As it is told and asked for."""
        return f"{self.table}:{self.id}"


BEGINNING = Mark(exports.TABLES[0], 0)


def read_mark(text: str) -> Mark:
    """
    A mark as it was told in a line.

    Raises
    ------
    Invalid
        When it is none.
    """
    table, _, number = text.partition(":")
    if table not in exports.TABLES or not (number.isascii() and number.isdigit() and len(number) < 19):
        raise Invalid(FieldError("after", text, f"the `mark` of a line, such as {BEGINNING}"))
    return Mark(table, int(number))


def lines(services: Services, actor: Actor, after: Mark = BEGINNING) -> Iterator[dict[str, Any]]:
    """
    Every row after a mark.

    Parameters
    ----------
    services, actor
        What may be used, and whose rows.
    after
        Where to go on.

    Yields
    ------
    dict
        ``mark``, ``table`` and ``row``: columns in SI units as stored. Read in batches of one transaction each, so
        that an export holds no other work up; what changes meanwhile is in ``events``, which come last.
    """
    for table in exports.TABLES[exports.TABLES.index(after.table) :]:
        last = after.id if table == after.table else 0
        while True:
            with services.database.reading(actor.organisation_id) as work:
                batch = list(exports.rows_after(work, table, last))
            for row in batch:
                last = row["id"]
                yield {"mark": str(Mark(table, last)), "table": table, "row": row}
            if len(batch) < exports.BATCH:
                break
