"""``/imports``: many cylinders or devices from CSV or JSON, with a dry run and faults by row."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import marshmallow as ma
from flask import request
from flask.views import MethodView
from werkzeug.exceptions import UnsupportedMediaType

from service.api.http import csv_rows, examples, json_rows
from service.api.http.answers import Answer
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.fields import QueryWhole, Text, Truth, Whole, Within
from service.api.http.json_types import JsonObject
from service.api.http.quantities import number
from service.api.http.strict import Strict
from service.api.schemas.common import device_name, place_name
from service.api.schemas.cylinders import NewCylinderSchema
from service.operations import imports
from service.operations.imports import NewDevice, Report, Row, RowError

blueprint = Blueprint("imports", __name__, description="Many at once, from CSV or JSON")


@dataclass(frozen=True, slots=True)
class ImportQuery:
    """How to take a file."""

    dry_run: bool
    from_row: int


class ImportArgs(Strict):
    """Query of an import."""

    into = ImportQuery

    dry_run = Truth(load_default=False, metadata={"description": "do everything, keep nothing"})
    from_row = QueryWhole(
        load_default=1, validate=Within(1, 10**9), metadata={"description": "go on from here"}
    )


class NewDeviceSchema(Strict):
    """A device that may not have been heard yet."""

    into = NewDevice

    device = device_name(required=True)
    place = place_name()
    probe_lag_s = number(Within(0, 100_000))


class RowErrorSchema(Answer):
    """One fault of one row; the first row below the names is 1."""

    of = RowError

    row = Whole(required=True)
    field = Text(required=True)
    value = ma.fields.Raw(required=True, allow_none=True)
    expected = Text(required=True)


@dataclass(frozen=True, slots=True)
class Told:
    """What became of the rows."""

    dry_run: bool
    report: Report


class ReportSchema(Answer):
    """What became of the rows."""

    of = Told
    inside = "report"

    dry_run = Truth(required=True)
    rows = Whole(required=True)
    created = Whole(required=True)
    unchanged = Whole(required=True)
    refused = Whole(required=True)
    errors = ma.fields.List(ma.fields.Nested(RowErrorSchema), required=True)


READERS = {"text/csv": csv_rows.read, "application/json": json_rows.read}


def _rows(schema: ma.Schema, from_row: int) -> Iterator[Row[Any]]:
    read = READERS.get(request.mimetype)
    if read is None:
        raise UnsupportedMediaType(f"The body has to be {' or '.join(READERS)}.")
    return read(request, schema, from_row)


def _body(csv: str, schema: type[ma.Schema], rows: Sequence[JsonObject]) -> Mapping[str, object]:
    as_json = {"schema": {"type": "array", "items": schema}, "example": rows}
    return {
        "required": True,
        "content": {"text/csv": {"schema": {"type": "string"}, "example": csv}, "application/json": as_json},
    }


@blueprint.route("/imports/cylinders")
class CylinderImport(MethodView):
    """Cylinders from CSV or JSON."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_body(examples.CYLINDERS_CSV, NewCylinderSchema, [examples.CYLINDER]))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: ImportQuery) -> Told:
        """Register cylinders from CSV or JSON.

        Columns are the fields of a single entry, in CSV with valves separated by `;`; JSON is an array of single
        entries. Good rows are kept though others are refused. What broke off may be sent again: rows that are in
        already are unchanged.
        """
        rows = _rows(NewCylinderSchema(), args.from_row)
        report = imports.cylinders_from(services(), actor(), rows, dry_run=args.dry_run)
        return Told(args.dry_run, report)


@blueprint.route("/imports/devices")
class DeviceImport(MethodView):
    """Devices from CSV or JSON."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_body(examples.DEVICES_CSV, NewDeviceSchema, [examples.DEVICE]))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: ImportQuery) -> Told:
        """Take devices from CSV or JSON before they are heard: `device`, `place`, `probe_lag_s`."""
        rows = _rows(NewDeviceSchema(), args.from_row)
        report = imports.devices_from(services(), actor(), rows, dry_run=args.dry_run)
        return Told(args.dry_run, report)
