"""``/imports``: many cylinders or devices from CSV, with a dry run and faults by row."""

from typing import Any

import marshmallow as ma
from flask import request
from flask.views import MethodView

from service.api import csv_rows, examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.fields import QueryWhole, Text, Truth, Whole, Within
from service.api.quantities import number
from service.api.schemas.common import device_name, place_name
from service.api.schemas.cylinders import NewCylinderSchema
from service.api.strict import Strict
from service.operations import imports
from service.operations.imports import Report

blueprint = Blueprint("imports", __name__, description="Many at once, from CSV")


class ImportArgs(Strict):
    """Query of an import."""

    dry_run = Truth(load_default=False, metadata={"description": "do everything, keep nothing"})
    from_row = QueryWhole(
        load_default=1, validate=Within(1, 10**9), metadata={"description": "go on from here"}
    )


class NewDeviceSchema(Strict):
    """A device that may not have been heard yet."""

    device = device_name(required=True)
    place = place_name()
    probe_lag_s = number(Within(0, 100_000))


class RowErrorSchema(ma.Schema):
    """One fault of one row; the first row below the names is 1."""

    row = Whole(required=True)
    field = Text(required=True)
    value = ma.fields.Raw(required=True, allow_none=True)
    expected = Text(required=True)


class ReportSchema(ma.Schema):
    """What became of the rows."""

    dry_run = Truth(required=True)
    rows = Whole(required=True)
    created = Whole(required=True)
    unchanged = Whole(required=True)
    refused = Whole(required=True)
    errors = ma.fields.List(ma.fields.Nested(RowErrorSchema), required=True)


def _csv_body(example: str) -> dict[str, Any]:
    return {"required": True, "content": {"text/csv": {"schema": {"type": "string"}, "example": example}}}


@blueprint.route("/imports/cylinders")
class CylinderImport(MethodView):
    """Cylinders from CSV."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_csv_body(examples.CYLINDERS_CSV))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: dict[str, Any]) -> dict[str, Any]:
        """Register cylinders from CSV.

        Columns are the fields of a single entry; valves are parted by `;`. Good rows are kept though others are
        refused. A file that broke off may be sent again: rows that are in already are unchanged.
        """
        rows = csv_rows.read(request, NewCylinderSchema(), args["from_row"])
        report = imports.cylinders_from(services(), actor(), rows, dry_run=args["dry_run"])
        return _told(report, args["dry_run"])


@blueprint.route("/imports/devices")
class DeviceImport(MethodView):
    """Devices from CSV."""

    @requires("supervisor")
    @blueprint.doc(requestBody=_csv_body(examples.DEVICES_CSV))
    @blueprint.arguments(ImportArgs, location="query")
    @blueprint.response(200, ReportSchema)
    def post(self, args: dict[str, Any]) -> dict[str, Any]:
        """Take devices from CSV before they are heard: `device`, `place`, `probe_lag_s`."""
        rows = csv_rows.read(request, NewDeviceSchema(), args["from_row"])
        report = imports.devices_from(services(), actor(), rows, dry_run=args["dry_run"])
        return _told(report, args["dry_run"])


def _told(report: Report, dry_run: bool) -> dict[str, Any]:
    return {
        "dry_run": dry_run,
        "rows": report.rows,
        "created": report.created,
        "unchanged": report.unchanged,
        "refused": report.refused,
        "errors": report.errors,
    }
