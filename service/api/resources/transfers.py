"""``/transfers``, the guard's dry run, and which cylinders are suitable."""

from collections.abc import Sequence

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import OfCylinder
from service.api.schemas.common import ID
from service.api.schemas.transfers import (
    CheckAnswer,
    CheckBody,
    CheckSchema,
    CheckSchemaIn,
    CorrectionBody,
    CorrectionSchemaIn,
    FoundList,
    RecordedTransferSchema,
    SuitableArgs,
    SuitableQuery,
    SuitableSchema,
    TransferArgs,
    TransferBody,
    TransferSchema,
    TransferSchemaIn,
)
from service.cylinders.judgement.state import Incoming
from service.operations import checks, corrections, suitable, transfers
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.operations.transfers import Done
from service.store.transfers import Transfer
from service.units import kg_from_lb

blueprint = Blueprint("transfers", __name__, description="Refrigerant in and out of cylinders, by weight")


@blueprint.route("/transfers")
class Transfers(MethodView):
    """Every transfer."""

    @requires("reader", within=("cylinder",), naming="cylinder")
    @blueprint.arguments(TransferArgs, location="query")
    @blueprint.response(200, page_of(TransferSchema))
    def get(self, args: OfCylinder) -> Listed[Transfer]:
        """List transfers, newest first."""
        return rows(transfers.listed(services(), actor(), args.page, serial=args.cylinder))

    @requires("technician", within=("cylinder", "to_cylinder"))
    @idempotent
    @blueprint.arguments(TransferSchemaIn, example=examples.TRANSFER)
    @blueprint.response(201, RecordedTransferSchema)
    def post(self, body: TransferBody) -> Done:
        """Record a transfer; `409` tells every rule that forbids it."""
        return transfers.record(services(), actor(), _new_transfer(body))


@blueprint.route(f"/transfers/<{ID}:transfer_id>")
class OneTransfer(MethodView):
    """One transfer."""

    @requires("reader", within=())
    @blueprint.response(200, TransferSchema)
    def get(self, transfer_id: int) -> Transfer:
        """Read a transfer."""
        return transfers.read(services(), actor(), transfer_id)


@blueprint.route(f"/transfers/<{ID}:transfer_id>/corrections")
class Corrections(MethodView):
    """Corrections are entries, not edits."""

    @requires("supervisor", within=())
    @idempotent
    @blueprint.arguments(CorrectionSchemaIn, example=examples.CORRECTION)
    @blueprint.response(201, TransferSchema)
    def post(self, body: CorrectionBody, transfer_id: int) -> Transfer:
        """Record what the mass really was; the entry that was wrong stays."""
        return corrections.correct(services(), actor(), transfer_id, body.mass_kg, body.reason)


@blueprint.route("/cylinders/<serial>/checks")
class Checks(MethodView):
    """The dry run."""

    @requires("reader", within=())
    @blueprint.arguments(CheckSchemaIn, example=examples.CHECK)
    @blueprint.response(200, CheckSchema)
    def post(self, body: CheckBody, serial: str) -> CheckAnswer:
        """May this much of this refrigerant go in? Every reason is told, and nothing is stored."""
        incoming = _incoming(body.refrigerant, body.mass_kg, body.candidates)
        return CheckAnswer(checks.check(services(), actor(), serial, incoming))


@blueprint.route("/cylinders/suitable")
class Suitable(MethodView):
    """Looking for a cylinder."""

    @requires("reader")
    @blueprint.arguments(SuitableArgs, location="query")
    @blueprint.response(200, SuitableSchema)
    def get(self, args: SuitableQuery) -> FoundList:
        """Cylinders that could take it now, best first, and why the others can not."""
        names = [name for name in args.candidates.split(",") if name.strip()]
        incoming = _incoming(args.refrigerant, _mass_of(args), names)
        fit, unfit = suitable.suitable(services(), actor(), incoming, place=args.site)
        return FoundList(fit, unsuitable=unfit)


def _mass_of(args: SuitableQuery) -> float:
    given = {"mass_kg": args.mass_kg, "mass_lb": args.mass_lb and kg_from_lb(args.mass_lb)}
    known = {name: mass_kg for name, mass_kg in given.items() if mass_kg is not None}
    if len(known) != 1:
        raise checks.one_mass([*known])
    return next(iter(known.values()))


def _incoming(refrigerant: str | None, mass_kg: float, candidates: Sequence[str]) -> Incoming:
    names = [checks.designation_of(services(), name, "candidates") for name in candidates]
    known = tuple(name for name in names if name is not None)
    return Incoming(checks.designation_of(services(), refrigerant), mass_kg, known)


def _new_transfer(body: TransferBody) -> NewTransfer:
    return NewTransfer(
        serial=body.cylinder,
        direction=body.direction,
        weighing=Weighing(body.mass_kg, body.gross_before_kg, body.gross_after_kg, body.from_live),
        refrigerant=body.refrigerant,
        phase=transfers.phase_of(body.phase, body.valve, body.position),
        occurred_at=body.at,
        technician=body.technician,
        certification_number=body.certification_number,
        equipment=body.equipment,
        at_rest=body.standing,
        to_cylinder=body.to_cylinder,
        override_reason=body.override_reason,
        note=body.note,
    )
