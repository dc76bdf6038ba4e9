"""``/holds``: set a cylinder aside, release it."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.schemas.common import ID
from service.api.schemas.life import HoldArgs, HoldSchema, HoldSchemaIn, ReleaseOfHoldArgs
from service.operations import holds
from service.store.holds import Hold

blueprint = Blueprint("holds", __name__, description="Cylinders set aside")


@blueprint.route("/holds")
class Holds(MethodView):
    """Every hold."""

    @requires("reader")
    @blueprint.arguments(HoldArgs, location="query")
    @blueprint.response(200, page_of(HoldSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List holds, newest first; `in_force=false` for those lifted too."""
        request = request_of(args)
        page = holds.listed(
            services(), actor(), request, serial=args["cylinder"], in_force_only=args["in_force"]
        )
        return answer(page, encode_hold)

    @requires("technician")
    @idempotent
    @blueprint.arguments(HoldSchemaIn, example=examples.HOLD)
    @blueprint.response(201, HoldSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Set a cylinder aside."""
        return encode_hold(holds.place(services(), actor(), body["cylinder"], body["reason"]))


@blueprint.route(f"/holds/<{ID}:hold_id>")
class OneHold(MethodView):
    """One hold."""

    @requires("supervisor")
    @blueprint.arguments(ReleaseOfHoldArgs, location="query")
    @blueprint.response(200, HoldSchema)
    def delete(self, args: dict[str, Any], hold_id: int) -> dict[str, Any]:
        """Lift a hold; it stays in the history."""
        return encode_hold(holds.release(services(), actor(), hold_id, args["reason"]))


def encode_hold(hold: Hold) -> dict[str, Any]:
    """A hold as JSON."""
    names = (
        "id", "cylinder", "reason", "placed_at", "placed_by", "released_at", "released_by", "release_reason",
    )  # fmt: skip
    return {name: getattr(hold, name) for name in names}
