"""JSON as it comes in: an array of which each member is checked by the schema of a single entry, by itself."""

from collections.abc import Iterator
from typing import Any

import marshmallow as ma
from werkzeug.exceptions import BadRequest

from service.api.http.csv_rows import checked
from service.operations.imports import Row
from service.operations.support.errors import FieldError, Invalid


def read(request: Any, schema: ma.Schema, from_row: int) -> Iterator[Row[Any]]:
    """
    Rows of a request's JSON body.

    Parameters
    ----------
    request
        Its body is an array of objects, within the usual limit of a body.
    schema
        Of a single entry.
    from_row
        Rows before this one are passed over; the first is 1.

    Yields
    ------
    Row
        With its faults, where it has any.

    Raises
    ------
    BadRequest
        When the body is no JSON.
    Invalid
        When it is no array.
    """
    try:
        body = request.get_json()
    except RecursionError:
        raise BadRequest("The JSON is nested too deeply.") from None
    if not isinstance(body, list):
        raise Invalid(FieldError("body", type(body).__name__, "an array of objects"))
    for number, given in enumerate(body, start=1):
        if number >= from_row:
            yield _row(number, given, schema)


def _row(number: int, given: object, schema: ma.Schema) -> Row[Any]:
    if not isinstance(given, dict):
        return Row(number, None, (FieldError("", str(given)[:40], "an object"),))
    return checked(number, given, schema)
