"""CSV as it comes in: read line by line, each row checked by the schema of a single entry."""

import csv
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import marshmallow as ma

from service.api.http.fields import Number, Truth, Whole
from service.api.http.problems import flattened
from service.operations.imports import Row
from service.operations.support.errors import FieldError, Invalid

LARGEST_FILE = 100_000_000
"""Bytes; read in passing, never held."""
LIST_SEPARATOR = ";"


def read(request: Any, schema: ma.Schema, from_row: int) -> Iterator[Row[Any]]:
    """
    Rows of a request's CSV body, in UTF-8, the first line naming the columns.

    Parameters
    ----------
    request
        Its body is read as the rows are asked for.
    schema
        Of a single entry.
    from_row
        Rows before this one are passed over; the first below the names is 1.

    Yields
    ------
    Row
        With its faults, where it has any.

    Raises
    ------
    Invalid
        When a column is not one of the schema's, or the file is not text.
    """
    request.max_content_length = LARGEST_FILE
    try:
        table = csv.reader(_text(request.stream), strict=True)
        columns = _columns(next(table, []), schema)
        for number, cells in enumerate(table, start=1):
            if number >= from_row and any(cell.strip() for cell in cells):
                yield _row(number, columns, cells, schema)
    except csv.Error as error:
        raise Invalid(FieldError("body", f"line {table.line_num}", f"CSV ({error})")) from error


def _text(lines: Iterable[bytes]) -> Iterator[str]:
    """Decode line by line; what is not UTF-8 becomes characters that every text field refuses, in its row alone."""
    for number, line in enumerate(lines):
        yield (line.removeprefix(b"\xef\xbb\xbf") if number == 0 else line).decode("utf-8", "surrogateescape")


def _columns(names: list[str], schema: ma.Schema) -> list[str]:
    columns = [name.strip().lower() for name in names]
    known = {field.data_key or name for name, field in schema.fields.items()}
    faults = [
        FieldError("column", name, f"one of {', '.join(sorted(known))}")
        for name in columns
        if name not in known
    ]
    doubled = [
        FieldError("column", name, "each column once") for name in set(columns) if columns.count(name) > 1
    ]
    if faults or doubled or not columns:
        raise Invalid(*(faults or doubled or [FieldError("body", "", "a first line that names the columns")]))
    return columns


def _row(number: int, columns: list[str], cells: list[str], schema: ma.Schema) -> Row[Any]:
    if len(cells) > len(columns):
        return Row(number, None, (FieldError("", len(cells), f"at most {len(columns)} cells"),))
    given = {name: cell.strip() for name, cell in zip(columns, cells, strict=False) if cell.strip()}
    return checked(number, {name: _value(schema, name, cell) for name, cell in given.items()}, schema)


def checked(number: int, given: Mapping[str, object], schema: ma.Schema) -> Row[Any]:
    """
    One row as its schema reads it.

    Parameters
    ----------
    number
        The row's, from 1.
    given
        What it says, by the names of the schema.
    schema
        Of a single entry.

    Returns
    -------
    Row
        With its values, or with each fault as field, value and expectation.
    """
    try:
        values = schema.load(given)
    except ma.ValidationError as error:
        faults = [
            FieldError(fault["field"], fault.get("value"), fault["expected"])
            for fault in flattened(error.messages)
        ]
        return Row(number, None, tuple(faults))
    return Row(number, values)


def _value(schema: ma.Schema, name: str, cell: str) -> Any:
    field = schema.fields[name]
    if isinstance(field, Number | Whole):
        try:
            return float(cell)
        except ValueError:
            return cell
    if isinstance(field, Truth):
        return {"true": True, "false": False, "yes": True, "no": False}.get(cell.lower(), cell)
    if isinstance(field, ma.fields.List):
        return [part.strip() for part in cell.split(LIST_SEPARATOR)]
    return cell
