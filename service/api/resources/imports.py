"""``/imports``: many cylinders or devices from CSV, with a dry run and faults by row."""

from dataclasses import dataclass

import marshmallow as ma
from flask import request
from flask.views import MethodView

from service.api.http import csv_rows, examples
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
from service.operations.imports import NewDevice, Report, RowError

blueprint = Blueprint("imports", __name__, description="Many at once, from CSV")


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


def _csv_body(example: str) -> JsonObject:
    return {"required": True, "content": {"text/csv": {"schema": {"type": "string"}, "example": example}}}


@blueprint.route("/imports/cylinders")
class CylinderImport(MethodView):
    """Cylinders from CSV."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_csv_body(examples.CYLINDERS_CSV))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: ImportQuery) -> Told:
        """Register cylinders from CSV.

        Columns are the fields of a single entry; valves are parted by `;`. Good rows are kept though others are
        refused. A file that broke off may be sent again: rows that are in already are unchanged.
        """
        rows = csv_rows.read(request, NewCylinderSchema(), args.from_row)
        report = imports.cylinders_from(services(), actor(), rows, dry_run=args.dry_run)
        return Told(args.dry_run, report)


@blueprint.route("/imports/devices")
class DeviceImport(MethodView):
    """Devices from CSV."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_csv_body(examples.DEVICES_CSV))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: ImportQuery) -> Told:
        """Take devices from CSV before they are heard: `device`, `place`, `probe_lag_s`."""
        rows = csv_rows.read(request, NewDeviceSchema(), args.from_row)
        report = imports.devices_from(services(), actor(), rows, dry_run=args.dry_run)
        return Told(args.dry_run, report)
