"""Paper: labels as PDF and SVG, sheets of labels, shipping descriptions, records."""

from dataclasses import dataclass
from typing import ClassVar

import marshmallow as ma
from flask import Response
from flask.views import MethodView

from service.api.http.answers import Answer
from service.api.http.auth import requires
from service.api.http.current import actor, services, settings
from service.api.http.document import Blueprint
from service.api.http.fields import Among, Matches, Text, Truth
from service.api.http.json_types import JsonObject
from service.api.http.strict import Strict
from service.api.schemas.common import place_name
from service.codes import UnitSystem
from service.operations import paper, records
from service.operations.paper import Paper, Wish
from service.paperwork.drawing import Drawing
from service.paperwork.label import label
from service.paperwork.pdf import pdf
from service.paperwork.records_export import as_csv, as_json
from service.paperwork.records_pdf import as_pdf
from service.paperwork.sheets import Paper as SheetSize
from service.paperwork.sheets import label_pages, printer_label, single_page
from service.paperwork.shipping import ShippingDescription
from service.paperwork.svg import svg
from service.paperwork.units import Units

blueprint = Blueprint("paper", __name__, description="Labels, shipping descriptions, records")
UNITS: tuple[str, ...] = tuple(UnitSystem)
SHEETS = ("letter", "a4")
PAPERS = ("label", "4x6in", *SHEETS)
DAY = Matches(r"\d{4}-\d{2}-\d{2}", "a day such as 2026-05-04")


@dataclass(frozen=True, slots=True)
class PaperQuery:
    """How paper is to look."""

    units: Units | None
    colour: bool


class PaperArgs(Strict):
    """Query of a label."""

    into: ClassVar[type] = PaperQuery

    units = Text(load_default=None, validate=Among(UNITS), metadata={"description": "else the owner's"})
    colour = Truth(load_default=True, metadata={"description": "false: black on white alone"})


@dataclass(frozen=True, slots=True)
class LabelQuery(PaperQuery):
    """How a label is to look."""

    paper: str


class LabelArgs(PaperArgs):
    """Query of a label as PDF."""

    into = LabelQuery

    paper = Text(
        load_default="label",
        validate=Among(PAPERS),
        metadata={"description": "62 x 100 mm, 4 x 6 in, or a page with the hazard label of 100 mm"},
    )


@dataclass(frozen=True, slots=True)
class SheetQuery(PaperQuery):
    """Which labels, and on which paper."""

    paper: SheetSize
    serials: str | None = None
    place: str | None = None


class SheetArgs(PaperArgs):
    """Query of sheets of labels."""

    into = SheetQuery

    paper = Text(load_default="letter", validate=Among(SHEETS))
    serials = Text(longest=4000, metadata={"description": "separated by commas", "example": "HM-0001"})
    place = place_name()


class ShippingSchema(Answer):
    """How a cylinder is described on shipping papers, in the order of 49 CFR 172.202."""

    of = ShippingDescription

    text = Text(required=True, allow_none=True)
    un_number = Text(required=True, allow_none=True)
    proper_shipping_name = Text(required=True, allow_none=True)
    technical_names = ma.fields.List(Text(), required=True)
    hazard_division = Text(required=True, allow_none=True)
    quantity = Text(required=True)
    packages = Text(required=True)
    notes = ma.fields.List(Text(), required=True)


@dataclass(frozen=True, slots=True)
class RecordQuery:
    """Which period, and how it is to look."""

    from_: str
    to: str
    format: str
    units: Units | None


class RecordArgs(Strict):
    """Query of the records."""

    into = RecordQuery

    from_ = Text(required=True, data_key="from", validate=DAY, metadata={"example": "2026-01-01"})
    to = Text(required=True, validate=DAY, metadata={"example": "2026-12-31"})
    format = Text(load_default="json", validate=Among(("csv", "json", "pdf")))
    units = Text(load_default=None, validate=Among(UNITS), metadata={"description": "of the PDF"})


def _wish(args: PaperQuery) -> Wish:
    return Wish(settings().public_url.rstrip("/"), args.units, args.colour)


def _document(body: str | bytes, media_type: str, name: str) -> Response:
    response = Response(body, content_type=media_type)
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    response.headers["Cache-Control"] = "private, no-store"
    return response


def _binary(media_type: str) -> dict[str, JsonObject]:
    schema: JsonObject = {"type": "string"} if media_type != "application/pdf" else {}
    return {"responses": {"200": {"description": "OK", "content": {media_type: {"schema": schema}}}}}


@blueprint.route("/cylinders/<serial>/label.pdf")
class LabelPdf(MethodView):
    """The label as PDF."""

    @requires("reader", within=())
    @blueprint.arguments(LabelArgs, location="query")
    @blueprint.doc(**_binary("application/pdf"))
    def get(self, args: LabelQuery, serial: str) -> Response:
        """Print the label: 62 x 100 mm, 4 x 6 in, or a page with the hazard label at full size."""
        found = paper.of(services(), actor(), serial, _wish(args))
        alone = {"label": label, "4x6in": printer_label}.get(args.paper)
        page = _page(found, args.paper) if alone is None else alone(found.label)
        return _document(pdf([page], title=page.title), "application/pdf", "label.pdf")


@blueprint.route("/cylinders/<serial>/label.svg")
class LabelSvg(MethodView):
    """The label as SVG."""

    @requires("reader", within=())
    @blueprint.arguments(PaperArgs, location="query")
    @blueprint.doc(**_binary("image/svg+xml"))
    def get(self, args: PaperQuery, serial: str) -> Response:
        """Show the label."""
        found = paper.of(services(), actor(), serial, _wish(args))
        return _document(svg(label(found.label)), "image/svg+xml", "label.svg")


@blueprint.route("/labels.pdf")
class LabelSheets(MethodView):
    """Many labels."""

    @requires("reader", within=("place",), naming="place")
    @blueprint.arguments(SheetArgs, location="query")
    @blueprint.doc(**_binary("application/pdf"))
    def get(self, args: SheetQuery) -> Response:
        """Print labels, six a page: of these serials, or of every cylinder at a place."""
        if args.place is not None and args.serials is None:
            found = paper.of_place(services(), actor(), args.place, _wish(args))
        elif args.serials is not None and args.place is None:
            serials = [name.strip() for name in args.serials.split(",") if name.strip()]
            found = paper.of_many(services(), actor(), serials, _wish(args))
        else:
            raise paper.one_choice()
        pages = label_pages([one.label for one in found], args.paper)
        return _document(pdf(pages, title="Labels"), "application/pdf", "labels.pdf")


@blueprint.route("/cylinders/<serial>/shipping-description")
class Shipping(MethodView):
    """The shipping description."""

    @requires("reader", within=())
    @blueprint.arguments(PaperArgs, location="query")
    @blueprint.response(200, ShippingSchema)
    def get(self, args: PaperQuery, serial: str) -> ShippingDescription:
        """Describe a cylinder in the order that 49 CFR 172.202 prescribes."""
        return paper.of(services(), actor(), serial, _wish(args)).shipping


@blueprint.route("/records")
class RecordsOfPeriod(MethodView):
    """Records by period."""

    @requires("reader")
    @blueprint.arguments(RecordArgs, location="query")
    @blueprint.doc(
        responses={
            "200": {
                "description": "OK",
                "content": {
                    "application/json": {"schema": {"type": "object"}},
                    "text/csv": {"schema": {"type": "string"}},
                    "application/pdf": {"schema": {}},
                },
            }
        }
    )
    def get(self, args: RecordQuery) -> Response:
        """What was recovered, by equipment, and sent for reclaim or destruction, with CO2-equivalent."""
        first, last = paper.day("from", args.from_), paper.day("to", args.to)
        found = records.of_period(services(), actor(), first, last)
        name = f"records-{first.isoformat()}-{last.isoformat()}"
        match args.format:
            case "csv":
                return _document(as_csv(found), "text/csv; charset=utf-8", f"{name}.csv")
            case "pdf":
                units = args.units or paper.owners_units(services(), actor())
                return _document(as_pdf(found, units=units), "application/pdf", f"{name}.pdf")
            case _:
                return _document(as_json(found), "application/json", f"{name}.json")


def _page(found: Paper, size: str) -> Drawing:
    words = found.shipping.text or " ".join(found.shipping.notes)
    return single_page(found.label, words, "a4" if size == "a4" else "letter")
