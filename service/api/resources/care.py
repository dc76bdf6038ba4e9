"""Care by hand: inspections, evacuations, requalifications, tests, purity results, labels, scrapping; history."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.json_types import JsonObject
from service.api.schemas.life import (
    CareArgs,
    CareQuery,
    CareSchema,
    CareSchemaIn,
    EvacuationSchema,
    HistoryArgs,
    HistoryEntrySchema,
    HistoryQuery,
    InspectionSchema,
    LabelledSchema,
    ObservationSchema,
    PurityResultSchema,
    RequalificationSchema,
    ScrappingSchema,
    TestSchema,
)
from service.operations import care, cylinders
from service.operations.care import Entry
from service.operations.support import events
from service.store.care import Care
from service.store.events import Event

blueprint = Blueprint("care", __name__, description="What was seen, tested and done to cylinders by hand")

ENTRIES: tuple[tuple[str, type[CareSchemaIn], JsonObject, str, str], ...] = (
    ("/inspections", InspectionSchema, examples.INSPECTION, "technician",
     "Record the visual inspection before filling; a failed one puts the cylinder on hold."),
    ("/evacuations", EvacuationSchema, examples.EVACUATION, "technician",
     "Record that a cylinder was emptied and drawn to vacuum; new contents begin."),
    ("/requalifications", RequalificationSchema, examples.REQUALIFICATION, "technician",
     "Record a requalification; a failed one condemns the cylinder."),
    ("/tests", TestSchema, examples.TEST, "technician",
     "Record an acid, moisture or other test by hand; a failed one puts the cylinder on hold."),
    ("/purity-results", PurityResultSchema, examples.PURITY, "technician",
     "Record what the reclaimer's laboratory found."),
    ("/observations", ObservationSchema, examples.OBSERVATION, "technician",
     "Record what else was seen of the contents: liquid level, combustible gas, a composition, who vouches for them."),
    ("/scrappings", ScrappingSchema, examples.SCRAPPING, "supervisor",
     "Take a cylinder out of service for good."),
    ("/labels", LabelledSchema, examples.LABELLED, "technician",
     "Record that the label was put on."),
)  # fmt: skip


def _route(path: str, schema: type[CareSchemaIn], example: JsonObject, scope: str, words: str) -> None:
    class Entries(MethodView):
        @requires(scope, within=("cylinder",))
        @idempotent
        @blueprint.arguments(schema, example=example)
        @blueprint.response(201, CareSchema)
        @blueprint.doc(summary=words)
        def post(self, body: Entry) -> Care:
            """Record one entry."""
            return care.record(services(), actor(), body)

    Entries.__name__ = Entries.__qualname__ = schema.kind.title().replace("-", "") + "Entries"
    Entries.__doc__ = words
    blueprint.route(path)(Entries)


for _entry in ENTRIES:
    _route(*_entry)


@blueprint.route("/care")
class CareEntries(MethodView):
    """Every entry."""

    @requires("reader", within=("cylinder",), naming="cylinder")
    @blueprint.arguments(CareArgs, location="query")
    @blueprint.response(200, page_of(CareSchema))
    def get(self, args: CareQuery) -> Listed[Care]:
        """List entries, newest first, of one cylinder or one kind."""
        return rows(care.listed(services(), actor(), args.page, serial=args.cylinder, kind=args.kind))


@blueprint.route("/cylinders/<serial>/history")
class History(MethodView):
    """Append-only: what happened to a cylinder."""

    @requires("reader", within=())
    @blueprint.arguments(HistoryArgs, location="query")
    @blueprint.response(200, page_of(HistoryEntrySchema))
    def get(self, args: HistoryQuery, serial: str) -> Listed[Event]:
        """List what happened to a cylinder, newest first; nothing in it is ever changed."""
        cylinders.read(services(), actor(), serial)
        found = events.history(services(), actor(), f"cylinders/{serial}", before=args.before)
        return Listed(found, str(found[-1].id) if len(found) == 100 else None)
