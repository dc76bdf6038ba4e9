"""``/hookups``: attach devices to cylinders; the worker polls the active ones."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.conditional import tagged_by
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.common import ID
from service.api.schemas.hookups import HookupArgs, HookupAt, HookupQuery, HookupSchema, NewHookupSchema
from service.operations import hookups
from service.operations.hookups import NewHookup
from service.operations.support import events
from service.operations.support.atmosphere import atmosphere_at
from service.operations.support.events import HOOKUP_CHANGED, PLACE_CHANGED
from service.store.hookups import Hookup

blueprint = Blueprint("hookups", __name__, description="Which devices are on which cylinder")


def _what_hookups_rest_on() -> str:
    changed = events.newest_of(services(), actor(), HOOKUP_CHANGED, PLACE_CHANGED)
    return f"{changed} {services().policy.default_elevation_m}"


@blueprint.route("/hookups")
class Hookups(MethodView):
    """Every hookup."""

    @requires("reader", "worker", within=("cylinder",))
    @tagged_by(_what_hookups_rest_on)
    @blueprint.arguments(HookupArgs, location="query")
    @blueprint.response(200, page_of(HookupSchema))
    def get(self, args: HookupQuery) -> Listed[HookupAt]:
        """List hookups; `active=true` for those that stand."""
        page = hookups.listed(services(), actor(), args.page, active=args.active, serial=args.cylinder)
        return answer(page, _at)

    @requires("technician", within=("cylinder", "place"))
    @idempotent
    @blueprint.arguments(NewHookupSchema, example=examples.HOOKUP)
    @blueprint.response(201, HookupSchema)
    def post(self, body: NewHookup) -> HookupAt:
        """Attach devices to a cylinder."""
        return _at(hookups.attach(services(), actor(), body))


@blueprint.route(f"/hookups/<{ID}:hookup_id>")
class OneHookup(MethodView):
    """One hookup."""

    @requires("reader", "worker", within=())
    @blueprint.response(200, HookupSchema)
    def get(self, hookup_id: int) -> HookupAt:
        """Read a hookup."""
        return _at(hookups.read(services(), actor(), hookup_id))

    @requires("technician", within=())
    @blueprint.response(204)
    def delete(self, hookup_id: int) -> None:
        """Take the devices off; what they told stays."""
        hookups.detach(services(), actor(), hookup_id)


def _at(hookup: Hookup) -> HookupAt:
    return HookupAt(hookup, atmosphere_at(services().policy.elevation_m(hookup.elevation_m)))
