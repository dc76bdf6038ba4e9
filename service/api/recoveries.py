"""``/recoveries``: refrigerant out of equipment into cylinders, from the plan to the vacuum at the end."""

from datetime import datetime
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import masses, pressures, temperatures
from service.api.schemas.common import ID
from service.api.schemas.recoveries import (
    EndSchemaIn,
    MethodSchemaIn,
    RecoveryArgs,
    RecoverySchema,
    RecoverySchemaIn,
    RecoverySummarySchema,
    SwapSchemaIn,
    VacuumSchemaIn,
)
from service.api.schemas.verdicts import pressure_of
from service.api.transfers import encode_equipment, standing_of
from service.operations import recoveries, recovery_state, recovery_steps
from service.operations.atmosphere import PressureReading
from service.operations.recoveries import NewRecovery, Swap
from service.operations.recovery_end import Ending
from service.operations.recovery_state import Course, Now
from service.operations.recovery_turns import Closed
from service.store.recoveries import Fill, Recovery

blueprint = Blueprint(
    "recoveries", __name__, description="Refrigerant out of equipment, cylinder by cylinder"
)

_ENDING = ("held_minutes", "vacuum_reason", "difference_reason")


@blueprint.route("/recoveries")
class Recoveries(MethodView):
    """Every recovery."""

    @requires("reader")
    @blueprint.arguments(RecoveryArgs, location="query")
    @blueprint.response(200, page_of(RecoverySummarySchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List recoveries, newest first; `open=true` for those that go on."""
        page = recovery_state.listed(services(), actor(), request_of(args), open_only=args["open"])
        return answer(page, _summary)

    @requires("technician")
    @idempotent
    @blueprint.arguments(RecoverySchemaIn, example=examples.RECOVERY)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Begin a recovery; tells what fits where and when to stop, or every rule that forbids it."""
        method = body.pop("method") or body["phase"]
        told = {"refrigerant": None, **body, "standing": standing_of(body.get("standing")), "method": method}
        new = NewRecovery(**{name: value for name, value in told.items() if name != "phase"})
        return _read(recoveries.start(services(), actor(), new))


@blueprint.route(f"/recoveries/<{ID}:recovery_id>")
class OneRecovery(MethodView):
    """One recovery."""

    @requires("reader")
    @blueprint.response(200, RecoverySchema)
    def get(self, recovery_id: int) -> dict[str, Any]:
        """Tell how it stands now, with the stop call from the scale under the cylinder."""
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/cylinder-swaps")
class CylinderSwaps(MethodView):
    """One cylinder for the next."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(SwapSchemaIn, example=examples.CYLINDER_SWAP)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: dict[str, Any], recovery_id: int) -> dict[str, Any]:
        """Record what the present cylinder took and go on with the next, as one act."""
        recoveries.swap(services(), actor(), recovery_id, Swap(closed=_closed(body), **body))
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/end")
class RecoveryEnds(MethodView):
    """The end of a recovery."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(EndSchemaIn, example=examples.RECOVERY_END)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: dict[str, Any], recovery_id: int) -> dict[str, Any]:
        """Record the last cylinder and the vacuum; `409` where the law's level needs a reason."""
        pressure = PressureReading(**pressure_of(body)) if _is_read(body) else None
        ending = Ending(_closed(body), pressure, **{name: body.get(name) for name in _ENDING})
        recoveries.end(services(), actor(), recovery_id, ending)
        return _read(recovery_id)


def _read(recovery_id: int) -> dict[str, Any]:
    return _course(recovery_state.read(services(), actor(), recovery_id))


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/vacuum-readings")
class VacuumReadings(MethodView):
    """The vacuum of the equipment, as it is read and held."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(VacuumSchemaIn, example=examples.VACUUM_READING)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: dict[str, Any], recovery_id: int) -> dict[str, Any]:
        """Note what the gauge reads with the machine off; two readings tell how long it held."""
        recovery_steps.note_vacuum(services(), actor(), recovery_id, PressureReading(**pressure_of(body)))
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/method-changes")
class MethodChanges(MethodView):
    """Another method for the rest."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(MethodSchemaIn, example=examples.METHOD_CHANGE)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: dict[str, Any], recovery_id: int) -> dict[str, Any]:
        """Go on by another method: the liquid first, then the rest as vapor."""
        recovery_steps.change_method(services(), actor(), recovery_id, body["method"])
        return _read(recovery_id)


def _is_read(body: dict[str, Any]) -> bool:
    return "absolute_pa" in body or "gauge_pa" in body


def _reading(one: dict[str, Any]) -> dict[str, Any]:
    return {"at": datetime.fromisoformat(one["at"]), **pressures("absolute_pressure", one["pressure_pa"])}


def _summary(recovery: Recovery) -> dict[str, Any]:
    return {
        "id": recovery.id,
        "designation": recovery.designation,
        **masses("expected", recovery.expected_kg),
        "phase": recovery.phase,
        "method": recovery.mode,
        "equipment": encode_equipment(recovery.equipment),
        "technician": recovery.technician,
        "began_at": recovery.occurred_at,
        "recorded_by": recovery.recorded_by,
        "ended_at": recovery.ended_at,
    }


def _course(course: Course) -> dict[str, Any]:
    level = course.asked.level
    return {
        **_summary(course.recovery),
        "state": course.state,
        "cylinders": [
            _fill(fill, takes) for fill, takes in zip(course.fills, course.plan.takes_kg, strict=True)
        ],
        **masses("short", course.plan.short_kg),
        **masses("recovered", course.recovered_kg),
        "required_vacuum": level
        and {
            **pressures("absolute_pressure", level.pressure_pa),
            "share_percent": None if level.share is None else 100.0 * level.share,
            "why": level.why,
            "source": level.rule.citation,
            "mark": level.rule.mark,
        },
        "required_vacuum_unread": course.asked.unread,
        "vacuum_readings": [_reading(one) for one in course.recovery.vacuum_readings or []],
        "now": course.now and _now(course.now),
        "ending": _ending(course.recovery),
    }


def _closed(body: dict[str, Any]) -> Closed:
    return Closed(body.pop("gross_after_kg", None), body.pop("confirmed"), body.pop("cylinder"))


def _fill(fill: Fill, takes_kg: float) -> dict[str, Any]:
    return {
        "cylinder": fill.cylinder,
        **masses("room", fill.room_kg),
        **masses("expected", takes_kg),
        **masses("limit_gross", fill.target_gross_kg),
        **masses("gross_before", fill.gross_before_kg),
        "begun_at": fill.begun_at,
        "ended_at": fill.ended_at,
        "transfer": fill.transfer_id,
        **masses("mass", fill.mass_kg),
        **masses("over", fill.over_kg),
    }


def _now(now: Now) -> dict[str, Any]:
    rate = masses("rate", None if now.rate_kg_s is None else 60.0 * now.rate_kg_s)
    return {
        "cylinder": now.fill.cylinder,
        "state": now.call.state,
        **masses("stop_at", now.call.stop_at_kg),
        **masses("gross", now.gross_kg),
        "heard_at": now.heard_at,
        **{f"{name}_per_minute": value for name, value in rate.items()},
        "seconds_left": now.call.seconds_left,
        **temperatures("temperature", now.temp_k),
        **pressures("gauge_pressure", now.gauge_pa),
        "causes": list(now.call.causes),
        "also": list(now.others),
    }


def _ending(recovery: Recovery) -> dict[str, Any] | None:
    ending = recovery.ending
    if ending is None:
        return None
    plain = ("vacuum_met", "required", "held_minutes", "vacuum_reason", "difference_reason")
    return {
        **pressures("absolute_pressure", ending["pressure_pa"]),
        **{name: ending[name] for name in plain},
        "source": ending["rule"],
        "ended_at": recovery.ended_at,
        "ended_by": recovery.ended_by,
    }
