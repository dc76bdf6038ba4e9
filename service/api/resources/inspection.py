"""What inspectors ask of: ``/reclaimers``, ``/exchanges/{id}/acceptance``, ``/appliances``, ``/custody``."""

from datetime import date

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import PageArgs, Paged
from service.api.schemas.common import ID
from service.api.schemas.inspection import (
    AcceptanceBody,
    AcceptanceSchema,
    AcceptanceSchemaIn,
    ApplianceSchema,
    ApplianceSchemaIn,
    CustodyArgs,
    CustodyBody,
    CustodyQuery,
    CustodySchema,
    CustodySchemaIn,
    InHands,
    LeakRateSchema,
    ReclaimerBody,
    ReclaimerListSchema,
    ReclaimerSchema,
    ReclaimerSchemaIn,
    WorkBody,
    WorkSchemaIn,
)
from service.operations import appliances, custody, reclaimers
from service.operations.appliances import LeakStatus, NewAppliance
from service.operations.reclaimers import NewAcceptance
from service.operations.support import calendar
from service.store.appliances import Appliance
from service.store.custody import Custody
from service.store.reclaimers import Acceptance, Reclaimer

blueprint = Blueprint("inspection", __name__, description="What inspectors ask of")


@blueprint.route("/reclaimers")
class Reclaimers(MethodView):
    """Every reclaimer."""

    @requires("reader")
    @blueprint.response(200, ReclaimerListSchema)
    def get(self) -> Listed[Reclaimer]:
        """List reclaimers and destruction facilities."""
        return Listed(reclaimers.listed(services(), actor()))


@blueprint.route("/reclaimers/<name>")
class OneReclaimer(MethodView):
    """One reclaimer."""

    @requires("technician")
    @blueprint.arguments(ReclaimerSchemaIn, example=examples.RECLAIMER)
    @blueprint.response(200, ReclaimerSchema)
    def put(self, body: ReclaimerBody, name: str) -> Reclaimer:
        """Write a reclaimer's address and certification; exchanges refer to it by name."""
        certification_number = body.certification_number
        return reclaimers.put(
            services(), actor(), name, address=body.address, certification_number=certification_number
        )


@blueprint.route(f"/exchanges/<{ID}:exchange_id>/acceptance")
class Acceptances(MethodView):
    """What the receiver says of an exchange."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(AcceptanceSchemaIn, example=examples.ACCEPTANCE)
    @blueprint.response(201, AcceptanceSchema)
    def post(self, body: AcceptanceBody, exchange_id: int) -> Acceptance:
        """Record what the receiver weighed, and its lot."""
        new = NewAcceptance(body.net_mass_kg, body.lot, body.at, body.note)
        return reclaimers.accept(services(), actor(), exchange_id, new)


@blueprint.route("/appliances")
class Appliances(MethodView):
    """Every appliance."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(ApplianceSchema))
    def get(self, args: Paged) -> Listed[Appliance]:
        """List appliances."""
        return rows(appliances.listed(services(), actor(), args.page))

    @requires("technician")
    @idempotent
    @blueprint.arguments(ApplianceSchemaIn, example=examples.APPLIANCE)
    @blueprint.response(201, ApplianceSchema)
    def post(self, body: NewAppliance) -> Appliance:
        """Register equipment with its full charge, named as transfers name it."""
        return appliances.register(services(), actor(), body)


@blueprint.route(f"/appliances/<{ID}:appliance_id>/leak-rate")
class LeakRates(MethodView):
    """How fast an appliance leaks."""

    @requires("reader")
    @blueprint.response(200, LeakRateSchema)
    def get(self, appliance_id: int) -> LeakStatus:
        """Tell the leak rate by the appliance's method, its trigger, and what is due."""
        return appliances.leak_status(services(), actor(), appliance_id)


@blueprint.route(f"/appliances/<{ID}:appliance_id>/works")
class Works(MethodView):
    """What was done on an appliance."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(WorkSchemaIn, example=examples.APPLIANCE_WORK)
    @blueprint.response(201, LeakRateSchema)
    def post(self, body: WorkBody, appliance_id: int) -> LeakStatus:
        """Record an inspection, a repair or a verification; answers how it stands then."""
        return appliances.add_work(
            services(),
            actor(),
            appliance_id,
            kind=body.kind,
            passed=body.passed,
            technician=body.technician,
            note=body.note,
            occurred_at=body.at,
        )


@blueprint.route("/custody")
class Custodies(MethodView):
    """Cylinders in somebody's hands."""

    @requires("reader")
    @blueprint.arguments(CustodyArgs, location="query")
    @blueprint.response(200, page_of(CustodySchema))
    def get(self, args: CustodyQuery) -> Listed[InHands]:
        """List who holds what, newest first."""
        page = custody.listed(services(), actor(), args.page, out_only=args.out)
        today = calendar.today_of(services(), actor())
        return answer(page, lambda entry: _in_hands(entry, today))

    @requires("technician")
    @idempotent
    @blueprint.arguments(CustodySchemaIn, example=examples.CUSTODY)
    @blueprint.response(201, CustodySchema)
    def post(self, body: CustodyBody) -> InHands:
        """Give a cylinder into somebody's hands."""
        entry = custody.hand_out(
            services(), actor(), body.cylinder, holder=body.holder, due_on=body.due_on, note=body.note
        )
        return _in_hands(entry, calendar.today_of(services(), actor()))


@blueprint.route(f"/custody/<{ID}:custody_id>")
class OneCustody(MethodView):
    """One cylinder in somebody's hands."""

    @requires("technician")
    @blueprint.response(200, CustodySchema)
    def delete(self, custody_id: int) -> InHands:
        """Take the cylinder back; the entry stays."""
        entry = custody.bring_back(services(), actor(), custody_id)
        return _in_hands(entry, calendar.today_of(services(), actor()))


def _in_hands(entry: Custody, today: date) -> InHands:
    return InHands(entry, custody.overdue(entry, today))
