"""What inspectors ask of: ``/reclaimers``, ``/exchanges/{id}/acceptance``, ``/appliances``, ``/custody``."""

from dataclasses import asdict
from datetime import date
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import PageArgs, answer, page_of, request_of
from service.api.quantities import masses
from service.api.schemas.common import ID
from service.api.schemas.inspection import (
    AcceptanceSchema,
    AcceptanceSchemaIn,
    ApplianceSchema,
    ApplianceSchemaIn,
    CustodyArgs,
    CustodySchema,
    CustodySchemaIn,
    LeakRateSchema,
    ReclaimerListSchema,
    ReclaimerSchema,
    ReclaimerSchemaIn,
    WorkSchemaIn,
)
from service.operations import appliances, calendar, custody, reclaimers
from service.operations.appliances import NewAppliance, Standing
from service.operations.reclaimers import NewAcceptance
from service.store.appliances import Appliance
from service.store.custody import Custody
from service.store.reclaimers import Reclaimer

blueprint = Blueprint("inspection", __name__, description="What inspectors ask of")


@blueprint.route("/reclaimers")
class Reclaimers(MethodView):
    """Every reclaimer."""

    @requires("reader")
    @blueprint.response(200, ReclaimerListSchema)
    def get(self) -> dict[str, Any]:
        """List reclaimers and destruction facilities."""
        return {"items": reclaimers.listed(services(), actor()), "next": None}


@blueprint.route("/reclaimers/<name>")
class OneReclaimer(MethodView):
    """One reclaimer."""

    @requires("technician")
    @blueprint.arguments(ReclaimerSchemaIn, example=examples.RECLAIMER)
    @blueprint.response(200, ReclaimerSchema)
    def put(self, body: dict[str, Any], name: str) -> Reclaimer:
        """Write a reclaimer's address and certification; exchanges refer to it by name."""
        return reclaimers.put(services(), actor(), name, **body)


@blueprint.route(f"/exchanges/<{ID}:exchange_id>/acceptance")
class Acceptances(MethodView):
    """What the receiver says of an exchange."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(AcceptanceSchemaIn, example=examples.ACCEPTANCE)
    @blueprint.response(201, AcceptanceSchema)
    def post(self, body: dict[str, Any], exchange_id: int) -> dict[str, Any]:
        """Record what the receiver weighed, and its lot."""
        new = NewAcceptance(body["net_mass_kg"], body.get("lot"), body.get("at"), body.get("note"))
        made = reclaimers.accept(services(), actor(), exchange_id, new)
        return {**asdict(made), "exchange": made.exchange_id, **masses("net_mass", made.net_kg)}


@blueprint.route("/appliances")
class Appliances(MethodView):
    """Every appliance."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(ApplianceSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List appliances."""
        return answer(appliances.listed(services(), actor(), request_of(args)), _appliance)

    @requires("technician")
    @idempotent
    @blueprint.arguments(ApplianceSchemaIn, example=examples.APPLIANCE)
    @blueprint.response(201, ApplianceSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Register equipment with its full charge, named as transfers name it."""
        return _appliance(appliances.register(services(), actor(), NewAppliance(**body)))


@blueprint.route(f"/appliances/<{ID}:appliance_id>/leak-rate")
class LeakRates(MethodView):
    """How fast an appliance leaks."""

    @requires("reader")
    @blueprint.response(200, LeakRateSchema)
    def get(self, appliance_id: int) -> dict[str, Any]:
        """Tell the leak rate by the appliance's method, its trigger, and what is due."""
        return _standing(appliances.standing(services(), actor(), appliance_id))


@blueprint.route(f"/appliances/<{ID}:appliance_id>/works")
class Works(MethodView):
    """What was done on an appliance."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(WorkSchemaIn, example=examples.APPLIANCE_WORK)
    @blueprint.response(201, LeakRateSchema)
    def post(self, body: dict[str, Any], appliance_id: int) -> dict[str, Any]:
        """Record an inspection, a repair or a verification; answers how it stands then."""
        given = {**body, "occurred_at": body["at"]}
        del given["at"]
        return _standing(appliances.add_work(services(), actor(), appliance_id, **given))


@blueprint.route("/custody")
class Custodies(MethodView):
    """Cylinders in somebody's hands."""

    @requires("reader")
    @blueprint.arguments(CustodyArgs, location="query")
    @blueprint.response(200, page_of(CustodySchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List who holds what, newest first."""
        page = custody.listed(services(), actor(), request_of(args), out_only=args["out"])
        today = calendar.today_of(services(), actor())
        return answer(page, lambda entry: _custody(entry, today))

    @requires("technician")
    @idempotent
    @blueprint.arguments(CustodySchemaIn, example=examples.CUSTODY)
    @blueprint.response(201, CustodySchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Give a cylinder into somebody's hands."""
        serial = body.pop("cylinder")
        entry = custody.hand_out(services(), actor(), serial, **body)
        return _custody(entry, calendar.today_of(services(), actor()))


@blueprint.route(f"/custody/<{ID}:custody_id>")
class OneCustody(MethodView):
    """One cylinder in somebody's hands."""

    @requires("technician")
    @blueprint.response(200, CustodySchema)
    def delete(self, custody_id: int) -> dict[str, Any]:
        """Take the cylinder back; the entry stays."""
        entry = custody.bring_back(services(), actor(), custody_id)
        return _custody(entry, calendar.today_of(services(), actor()))


def _appliance(appliance: Appliance) -> dict[str, Any]:
    told = {**asdict(appliance), **masses("full_charge", appliance.full_charge_kg)}
    return {**told, "owner": appliance.owner or None, "circuit": appliance.circuit or None}


def _standing(found: Standing) -> dict[str, Any]:
    return {
        "appliance": _appliance(found.appliance),
        "on": found.on,
        "method": str(found.rate.method),
        "leak_rate_percent": round(100.0 * found.rate.rate, 3),
        "trigger_percent": 100.0 * found.rate.trigger,
        **masses("added", found.added_kg),
        "repair_by": found.rate.repair_by if found.rule else None,
        "chronic_years": list(found.rate.chronic_years),
        "rule": found.rule.citation if found.rule else None,
        "works": found.works,
    }


def _custody(entry: Custody, today: date) -> dict[str, Any]:
    return {**asdict(entry), "overdue": custody.overdue(entry, today)}
