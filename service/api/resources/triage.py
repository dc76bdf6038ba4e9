"""``/triage``: an inherited van, cylinder by cylinder."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.triage import (
    TriageArgs,
    TriageBody,
    TriageQuery,
    TriageSchema,
    TriageSchemaIn,
    read_after,
    written_after,
)
from service.operations import triage
from service.operations.triage import Triaged

blueprint = Blueprint(
    "triage", __name__, description="Cylinders entered by serial alone, led to their labels"
)


@blueprint.route("/triage")
class Triage(MethodView):
    """The list."""

    @requires("reader")
    @blueprint.arguments(TriageArgs, location="query")
    @blueprint.response(200, TriageSchema)
    def get(self, args: TriageQuery) -> Listed[Triaged]:
        """Cylinders with their next step: marks, weighing, hookup, verdict, label."""
        page = triage.listed(
            services(),
            actor(),
            place=args.place,
            unfinished_only=args.unfinished,
            limit=args.limit,
            after=read_after(args.after),
        )
        return Listed(page.items, page.next and written_after(page.next))

    @requires("technician")
    @idempotent
    @blueprint.arguments(TriageSchemaIn, example=examples.TRIAGE)
    @blueprint.response(201, TriageSchema)
    def post(self, body: TriageBody) -> Listed[Triaged]:
        """Enter cylinders by their serials alone, all or none."""
        return Listed(triage.enter(services(), actor(), body.serials, place=body.place))
