"""``/transfers``, the guard's dry run, and which cylinders are suitable."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import masses, pressures, temperatures
from service.api.rules_json import encode_check, encode_said
from service.api.schemas.common import ID
from service.api.schemas.transfers import (
    CheckSchema,
    CheckSchemaIn,
    CorrectionSchemaIn,
    RecordedTransferSchema,
    SuitableArgs,
    SuitableSchema,
    TransferArgs,
    TransferSchema,
    TransferSchemaIn,
)
from service.api.schemas.verdicts import pressure_of, uncertainties_of
from service.api.verdict_json import encode as encode_verdict
from service.cylinders.judgement.state import Incoming
from service.operations import checks, corrections, suitable, transfers
from service.operations.atmosphere import PressureReading
from service.operations.equipment import Standing
from service.operations.moving import NewTransfer
from service.operations.suitable import Found
from service.operations.weights import Weighing
from service.store.transfers import Transfer
from service.units import kg_from_lb
from service.verdict.document import from_json

blueprint = Blueprint("transfers", __name__, description="Refrigerant in and out of cylinders, by weight")


@blueprint.route("/transfers")
class Transfers(MethodView):
    """Every transfer."""

    @requires("reader")
    @blueprint.arguments(TransferArgs, location="query")
    @blueprint.response(200, page_of(TransferSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List transfers, newest first."""
        request = request_of(args)
        return answer(
            transfers.listed(services(), actor(), request, serial=args["cylinder"]), encode_transfer
        )

    @requires("technician")
    @idempotent
    @blueprint.arguments(TransferSchemaIn, example=examples.TRANSFER)
    @blueprint.response(201, RecordedTransferSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Record a transfer; `409` tells every rule that forbids it."""
        done = transfers.record(services(), actor(), _new_transfer(body))
        return {
            **encode_transfer(done.transfer),
            "cautions": [encode_said(caution) for caution in done.check.cautions],
            "counterpart": encode_transfer(done.counterpart) if done.counterpart else None,
        }


@blueprint.route(f"/transfers/<{ID}:transfer_id>")
class OneTransfer(MethodView):
    """One transfer."""

    @requires("reader")
    @blueprint.response(200, TransferSchema)
    def get(self, transfer_id: int) -> dict[str, Any]:
        """Read a transfer."""
        return encode_transfer(transfers.read(services(), actor(), transfer_id))


@blueprint.route(f"/transfers/<{ID}:transfer_id>/corrections")
class Corrections(MethodView):
    """Corrections are entries, not edits."""

    @requires("supervisor")
    @idempotent
    @blueprint.arguments(CorrectionSchemaIn, example=examples.CORRECTION)
    @blueprint.response(201, TransferSchema)
    def post(self, body: dict[str, Any], transfer_id: int) -> dict[str, Any]:
        """Record what the mass really was; the entry that was wrong stays."""
        made = corrections.correct(services(), actor(), transfer_id, body["mass_kg"], body["reason"])
        return encode_transfer(made)


@blueprint.route("/cylinders/<serial>/checks")
class Checks(MethodView):
    """The dry run."""

    @requires("reader")
    @blueprint.arguments(CheckSchemaIn, example=examples.CHECK)
    @blueprint.response(200, CheckSchema)
    def post(self, body: dict[str, Any], serial: str) -> dict[str, Any]:
        """May this much of this refrigerant go in? Every reason is told, and nothing is stored."""
        incoming = _incoming(body.get("refrigerant"), body["mass_kg"], body.get("candidates", ()))
        return encode_check(checks.check(services(), actor(), serial, incoming))


@blueprint.route("/cylinders/suitable")
class Suitable(MethodView):
    """Looking for a cylinder."""

    @requires("reader")
    @blueprint.arguments(SuitableArgs, location="query")
    @blueprint.response(200, SuitableSchema)
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """Cylinders that could take it now, best first, and why the others can not."""
        names = [name for name in args.get("candidates", "").split(",") if name.strip()]
        incoming = _incoming(args["refrigerant"], _mass_of(args), names)
        fit, unfit = suitable.suitable(services(), actor(), incoming, place=args["site"])
        return {
            "items": [_encode_found(one) for one in fit],
            "unsuitable": [_encode_found(one) for one in unfit],
            "next": None,
        }


def _mass_of(args: dict[str, Any]) -> float:
    given = [name for name in ("mass_kg", "mass_lb") if name in args]
    if len(given) != 1:
        raise checks.one_mass(given)
    return float(args["mass_kg"]) if "mass_kg" in args else kg_from_lb(args["mass_lb"])


def _incoming(refrigerant: str | None, mass_kg: float, candidates: Any) -> Incoming:
    names = [checks.designation_of(services(), name, "candidates") for name in candidates]
    known = tuple(name for name in names if name is not None)
    return Incoming(checks.designation_of(services(), refrigerant), mass_kg, known)


def _new_transfer(body: dict[str, Any]) -> NewTransfer:
    weighing = Weighing(
        body.get("mass_kg"), body.get("gross_before_kg"), body.get("gross_after_kg"), body["from_live"]
    )
    plain = (
        "refrigerant",
        "technician",
        "certification_number",
        "equipment",
        "to_cylinder",
        "override_reason",
        "note",
    )
    told: dict[str, Any] = {name: body.get(name) for name in plain}
    return NewTransfer(
        serial=body["cylinder"],
        direction=body["direction"],
        weighing=weighing,
        phase=transfers.phase_of(body.get("phase"), body.get("valve"), body.get("position")),
        occurred_at=body.get("at"),
        standing=standing_of(body.get("standing")),
        **told,
    )


def standing_of(reading: dict[str, Any] | None) -> Standing | None:
    """Loaded pressure and temperature of standing equipment."""
    if reading is None:
        return None
    pressure = PressureReading(**pressure_of(reading))
    return Standing(temp_k=reading["temp_k"], pressure=pressure, **uncertainties_of(reading))


def encode_transfer(transfer: Transfer) -> dict[str, Any]:
    """A transfer as JSON, in both units."""
    return {
        "id": transfer.id,
        "cylinder": transfer.cylinder,
        "direction": transfer.direction,
        "designation": transfer.designation,
        "shares": transfer.shares,
        **masses("mass", transfer.mass_kg),
        **masses("gross_after", transfer.gross_after_kg),
        "phase": transfer.phase,
        "epoch": transfer.epoch,
        "at": transfer.occurred_at,
        "recorded_at": transfer.recorded_at,
        "recorded_by": transfer.recorded_by,
        "technician": transfer.technician,
        "certification_number": transfer.certification_number,
        "equipment": encode_equipment(transfer.equipment),
        "standing": _encode_standing(transfer.standing),
        "other_cylinder": transfer.other_cylinder,
        "overridden": transfer.overridden,
        "override_reason": transfer.override_reason,
        "corrects": transfer.corrects_id,
        "note": transfer.note,
    }


def encode_equipment(equipment: dict[str, Any] | None) -> dict[str, Any] | None:
    """Equipment as JSON, its charge in both units."""
    if equipment is None:
        return None
    plain = {name: value for name, value in equipment.items() if name != "charge_kg"}
    return {**plain, **masses("charge", equipment.get("charge_kg"))}


def _encode_standing(standing: dict[str, Any] | None) -> dict[str, Any] | None:
    if standing is None:
        return None
    return {
        **temperatures("temperature", standing["temp_k"]),
        **pressures("absolute_pressure", standing["pressure_pa"]),
        "nameplate": standing["nameplate"],
        "verdict": encode_verdict(from_json(standing["verdict"])),
    }


def _encode_found(found: Found) -> dict[str, Any]:
    check = found.answer.check
    return {
        "cylinder": found.cylinder.serial,
        "place": found.cylinder.place,
        "same_refrigerant": found.answer.same_refrigerant,
        **masses("remaining", check.remaining_kg),
        "why": found.answer.why,
        "reasons": [encode_said(breach) for breach in check.breaches],
    }
