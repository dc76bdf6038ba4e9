"""``/hookups``: attach devices to cylinders; the worker polls the active ones."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.conditional import tagged_by
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import pressures
from service.api.schemas.common import ID
from service.api.schemas.hookups import HookupArgs, HookupSchema, NewHookupSchema
from service.operations import events, hookups
from service.operations.atmosphere import atmosphere_at
from service.operations.events import HOOKUP_CHANGED, PLACE_CHANGED
from service.operations.hookups import NewHookup
from service.store.hookups import Hookup

blueprint = Blueprint("hookups", __name__, description="Which devices are on which cylinder")


def _what_hookups_rest_on() -> str:
    changed = events.newest_of(services(), actor(), HOOKUP_CHANGED, PLACE_CHANGED)
    return f"{changed} {services().policy.default_elevation_m}"


@blueprint.route("/hookups")
class Hookups(MethodView):
    """Every hookup."""

    @requires("reader", "worker")
    @tagged_by(_what_hookups_rest_on)
    @blueprint.arguments(HookupArgs, location="query")
    @blueprint.response(200, page_of(HookupSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List hookups; `active=true` for those that stand."""
        request = request_of(args)
        page = hookups.listed(services(), actor(), request, active=args["active"], serial=args["cylinder"])
        return answer(page, encode_hookup)

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewHookupSchema, example=examples.HOOKUP)
    @blueprint.response(201, HookupSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Attach devices to a cylinder."""
        bias_kpa = body.get("pressure_bias_uncertainty_kpa")
        new = NewHookup(
            cylinder=body["cylinder"],
            pressure_device=body["pressure_device"],
            temperature_device=body["temperature_device"],
            valve=body["valve"],
            place=body.get("place"),
            from_at=body.get("from_at"),
            temperature_bias_k=body.get("temperature_bias_uncertainty_k"),
            pressure_bias_pa=None if bias_kpa is None else bias_kpa * 1000.0,
        )
        return encode_hookup(hookups.attach(services(), actor(), new))


@blueprint.route(f"/hookups/<{ID}:hookup_id>")
class OneHookup(MethodView):
    """One hookup."""

    @requires("reader", "worker")
    @blueprint.response(200, HookupSchema)
    def get(self, hookup_id: int) -> dict[str, Any]:
        """Read a hookup."""
        return encode_hookup(hookups.read(services(), actor(), hookup_id))

    @requires("technician")
    @blueprint.response(204)
    def delete(self, hookup_id: int) -> None:
        """Take the devices off; what they told stays."""
        hookups.detach(services(), actor(), hookup_id)


def encode_hookup(hookup: Hookup) -> dict[str, Any]:
    """A hookup as JSON, with the atmosphere that its gauge reads against."""
    atmosphere = atmosphere_at(services().policy.elevation_m(hookup.elevation_m))
    bias_pa = hookup.pressure_bias_pa
    return {
        "id": hookup.id,
        "cylinder": hookup.cylinder,
        "place": hookup.place,
        "pressure_device": hookup.pressure_device,
        "temperature_device": hookup.temperature_device,
        "valve": hookup.valve,
        "from_at": hookup.from_at,
        "to_at": hookup.to_at,
        **pressures("atmospheric_pressure", atmosphere.pressure_pa),
        "atmospheric_pressure_uncertainty_kpa": atmosphere.uncertainty_pa / 1000.0,
        "atmospheric_pressure_source": atmosphere.source,
        "temperature_bias_uncertainty_k": hookup.temperature_bias_k,
        "pressure_bias_uncertainty_kpa": None if bias_pa is None else bias_pa / 1000.0,
        "probe_lag_s": hookup.probe_lag_s,
    }
