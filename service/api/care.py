"""Care by hand: inspections, evacuations, requalifications, tests, purity results, labels, scrapping; history."""

from typing import Any

import marshmallow as ma
from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.schemas.life import (
    CareArgs,
    CareSchema,
    EvacuationSchema,
    HistoryArgs,
    HistoryEntrySchema,
    InspectionSchema,
    LabelledSchema,
    ObservationSchema,
    PurityResultSchema,
    RequalificationSchema,
    ScrappingSchema,
    TestSchema,
)
from service.operations import care, cylinders, events
from service.operations.care import Entry
from service.store.care import Care

blueprint = Blueprint("care", __name__, description="What was seen, tested and done to cylinders by hand")

ENTRIES: tuple[tuple[str, str, type[ma.Schema], dict[str, Any], str, str], ...] = (
    ("/inspections", "inspection", InspectionSchema, examples.INSPECTION, "technician",
     "Record the visual inspection before filling; a failed one puts the cylinder on hold."),
    ("/evacuations", "evacuation", EvacuationSchema, examples.EVACUATION, "technician",
     "Record that a cylinder was emptied and drawn to vacuum; new contents begin."),
    ("/requalifications", "requalification", RequalificationSchema, examples.REQUALIFICATION, "technician",
     "Record a requalification; a failed one condemns the cylinder."),
    ("/tests", "test", TestSchema, examples.TEST, "technician",
     "Record an acid, moisture or other test by hand; a failed one puts the cylinder on hold."),
    ("/purity-results", "purity-result", PurityResultSchema, examples.PURITY, "technician",
     "Record what the reclaimer's laboratory found."),
    ("/observations", "observation", ObservationSchema, examples.OBSERVATION, "technician",
     "Record what else was seen of the contents: liquid level, combustible gas, a composition, who vouches for them."),
    ("/scrappings", "scrapping", ScrappingSchema, examples.SCRAPPING, "supervisor",
     "Take a cylinder out of service for good."),
    ("/labels", "label", LabelledSchema, examples.LABELLED, "technician",
     "Record that the label was put on."),
)  # fmt: skip


def _route(
    path: str, kind: str, schema: type[ma.Schema], example: dict[str, Any], scope: str, words: str
) -> None:
    class Entries(MethodView):
        @requires(scope)
        @idempotent
        @blueprint.arguments(schema, example=example)
        @blueprint.response(201, CareSchema)
        @blueprint.doc(summary=words)
        def post(self, body: dict[str, Any]) -> dict[str, Any]:
            """Record one entry."""
            serial, at, passed = body.pop("cylinder"), body.pop("at", None), body.pop("passed", None)
            entry = Entry(serial, kind, passed, body, at)
            return encode_care(care.record(services(), actor(), entry))

    Entries.__name__ = Entries.__qualname__ = kind.title().replace("-", "") + "Entries"
    Entries.__doc__ = words
    blueprint.route(path)(Entries)


for _entry in ENTRIES:
    _route(*_entry)


@blueprint.route("/care")
class CareEntries(MethodView):
    """Every entry."""

    @requires("reader")
    @blueprint.arguments(CareArgs, location="query")
    @blueprint.response(200, page_of(CareSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List entries, newest first, of one cylinder or one kind."""
        request = request_of(args)
        page = care.listed(services(), actor(), request, serial=args["cylinder"], kind=args["kind"])
        return answer(page, encode_care)


@blueprint.route("/cylinders/<serial>/history")
class History(MethodView):
    """Append-only: what happened to a cylinder."""

    @requires("reader")
    @blueprint.arguments(HistoryArgs, location="query")
    @blueprint.response(200, page_of(HistoryEntrySchema))
    def get(self, args: dict[str, Any], serial: str) -> dict[str, Any]:
        """List what happened to a cylinder, newest first; nothing in it is ever changed."""
        cylinders.read(services(), actor(), serial)
        found = events.history(services(), actor(), f"cylinders/{serial}", before=args["before"])
        items = [
            {"id": one.id, "at": one.at, "type": one.type, "actor": one.actor, "data": one.data}
            for one in found
        ]
        return {"items": items, "next": str(found[-1].id) if len(found) == 100 else None}


def encode_care(entry: Care) -> dict[str, Any]:
    """An entry as JSON."""
    names = ("id", "cylinder", "kind", "epoch", "passed", "details", "recorded_at", "recorded_by")
    return {**{name: getattr(entry, name) for name in names}, "at": entry.occurred_at}
