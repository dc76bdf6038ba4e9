"""``/holds``: set a cylinder aside, release it."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.common import ID
from service.api.schemas.life import (
    HoldArgs,
    HoldBody,
    HoldQuery,
    HoldSchema,
    HoldSchemaIn,
    ReleaseOfHoldArgs,
    ReleaseQuery,
)
from service.operations import holds
from service.store.holds import Hold

blueprint = Blueprint("holds", __name__, description="Cylinders set aside")


@blueprint.route("/holds")
class Holds(MethodView):
    """Every hold."""

    @requires("reader", within=("cylinder",), naming="cylinder")
    @blueprint.arguments(HoldArgs, location="query")
    @blueprint.response(200, page_of(HoldSchema))
    def get(self, args: HoldQuery) -> Listed[Hold]:
        """List holds, newest first; `in_force=false` for those lifted too."""
        return rows(
            holds.listed(services(), actor(), args.page, serial=args.cylinder, in_force_only=args.in_force)
        )

    @requires("technician", within=("cylinder",))
    @idempotent
    @blueprint.arguments(HoldSchemaIn, example=examples.HOLD)
    @blueprint.response(201, HoldSchema)
    def post(self, body: HoldBody) -> Hold:
        """Set a cylinder aside."""
        return holds.place(services(), actor(), body.cylinder, body.reason)


@blueprint.route(f"/holds/<{ID}:hold_id>")
class OneHold(MethodView):
    """One hold."""

    @requires("supervisor", within=())
    @blueprint.arguments(ReleaseOfHoldArgs, location="query")
    @blueprint.response(200, HoldSchema)
    def delete(self, args: ReleaseQuery, hold_id: int) -> Hold:
        """Lift a hold; it stays in the history."""
        return holds.release(services(), actor(), hold_id, args.reason)
