"""Rows for every table of a schema as a database has it, for tests of migrations and backups."""

import itertools
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

START = datetime(2026, 1, 2, 3, 4, 5, 678901, tzinfo=UTC)


def reflected(connection: sa.Connection) -> dict[str, sa.Table]:
    """Tables in the order that foreign keys allow."""
    metadata = sa.MetaData()
    metadata.reflect(connection)
    return {t.name: t for t in metadata.sorted_tables if t.name != "alembic_version"}


def value_for(column: sa.Column[Any], number: int, naive: bool) -> Any:
    """Some value of the column's type, another for every number."""
    if column.foreign_keys:
        return number
    at = START + timedelta(days=number)
    samples: list[tuple[type, Any]] = [
        (sa.Boolean, number % 2 == 0),
        (sa.Integer, number),
        (sa.Float, number + 0.1),
        (sa.Numeric, Decimal(f"{number}.25")),
        (sa.DateTime, at.replace(tzinfo=None) if naive else at),
        (sa.Date, at.date()),
        (sa.JSON, {"ü": [number, None, 1.5, "x\u2028y"]} if number % 2 else [{"a": None}]),
        (sa.LargeBinary, bytes([number % 256, 0, 255])),
    ]
    for kind, value in samples:
        if isinstance(column.type, kind):
            return value
    return _text(column, number)


def _text(column: sa.Column[Any], number: int) -> str:
    text = f"{column.name} ß {number}"
    length = getattr(column.type, "length", None)
    return text if length is None else (text if length >= len(text) else str(number)[:length])


def fill(connection: sa.Connection, numbers: range) -> dict[str, int]:
    """Insert a row of each number into every table; nullable columns are empty in every third row."""
    naive = connection.dialect.name == "sqlite"
    counts = {}
    for table, number in itertools.product(reflected(connection).values(), numbers):
        row = {}
        for column in table.columns:
            if column.nullable and number % 3 == 0:
                row[column.name] = sa.null()
            else:
                row[column.name] = value_for(column, number, naive)
        connection.execute(sa.insert(table).values(**row))
        counts[table.name] = counts.get(table.name, 0) + 1
    return counts


def contents(connection: sa.Connection) -> dict[str, list[dict[str, Any]]]:
    """Everything in every table, instants as aware UTC, so that databases of both kinds compare."""

    def plain(value: Any) -> Any:
        if isinstance(value, datetime):
            return (value if value.tzinfo else value.replace(tzinfo=UTC)).astimezone(UTC)
        return value

    return {
        name: sorted(
            (
                {k: plain(v) for k, v in row.items()}
                for row in connection.execute(sa.select(table)).mappings()
            ),
            key=repr,
        )
        for name, table in reflected(connection).items()
    }
