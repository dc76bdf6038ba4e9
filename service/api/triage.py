"""``/triage``: an inherited van, cylinder by cylinder."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.schemas.life import TriageArgs, TriageSchema, TriageSchemaIn
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
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """Cylinders with their next step: marks, weighing, hookup, verdict, label."""
        found = triage.listed(services(), actor(), place=args["place"], unfinished_only=args["unfinished"])
        return _encode(found)

    @requires("technician")
    @idempotent
    @blueprint.arguments(TriageSchemaIn, example=examples.TRIAGE)
    @blueprint.response(201, TriageSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Enter cylinders by their serials alone, all or none."""
        return _encode(triage.enter(services(), actor(), body["serials"], place=body["place"]))


def _encode(found: list[Triaged]) -> dict[str, Any]:
    items = [
        {
            "cylinder": one.cylinder.serial,
            "place": one.cylinder.place,
            "done": [str(step) for step in one.progress.done],
            "next_step": None if one.progress.next_step is None else str(one.progress.next_step),
            "text": one.progress.text,
        }
        for one in found
    ]
    return {"items": items, "next": None}
