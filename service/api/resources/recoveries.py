"""``/recoveries``: refrigerant out of equipment into cylinders, from the plan to the vacuum at the end."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.common import ID
from service.api.schemas.recoveries import (
    EndSchemaIn,
    MethodBody,
    MethodSchemaIn,
    RecoveryArgs,
    RecoveryQuery,
    RecoverySchemaIn,
    SwapSchemaIn,
    VacuumBody,
    VacuumSchemaIn,
)
from service.api.schemas.recovery_answers import RecoverySchema, RecoverySummarySchema, Told
from service.operations import recoveries, recovery_state, recovery_steps
from service.operations.recoveries import NewRecovery, Swap
from service.operations.recovery_end import Ending
from service.store.recoveries import Recovery

blueprint = Blueprint(
    "recoveries", __name__, description="Refrigerant out of equipment, cylinder by cylinder"
)


@blueprint.route("/recoveries")
class Recoveries(MethodView):
    """Every recovery."""

    @requires("reader")
    @blueprint.arguments(RecoveryArgs, location="query")
    @blueprint.response(200, page_of(RecoverySummarySchema))
    def get(self, args: RecoveryQuery) -> Listed[Recovery]:
        """List recoveries, newest first; `open=true` for those that go on."""
        return rows(recovery_state.listed(services(), actor(), args.page, open_only=args.open))

    @requires("technician")
    @idempotent
    @blueprint.arguments(RecoverySchemaIn, example=examples.RECOVERY)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: NewRecovery) -> Told:
        """Begin a recovery; tells what fits where and when to stop, or every rule that forbids it."""
        return _read(recoveries.start(services(), actor(), body))


@blueprint.route(f"/recoveries/<{ID}:recovery_id>")
class OneRecovery(MethodView):
    """One recovery."""

    @requires("reader")
    @blueprint.response(200, RecoverySchema)
    def get(self, recovery_id: int) -> Told:
        """Tell how it stands now, with the stop call from the scale under the cylinder."""
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/cylinder-swaps")
class CylinderSwaps(MethodView):
    """One cylinder for the next."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(SwapSchemaIn, example=examples.CYLINDER_SWAP)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: Swap, recovery_id: int) -> Told:
        """Record what the present cylinder took and go on with the next, as one act."""
        recoveries.swap(services(), actor(), recovery_id, body)
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/end")
class RecoveryEnds(MethodView):
    """The end of a recovery."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(EndSchemaIn, example=examples.RECOVERY_END)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: Ending, recovery_id: int) -> Told:
        """Record the last cylinder and the vacuum; `409` where the law's level needs a reason."""
        recoveries.end(services(), actor(), recovery_id, body)
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/vacuum-readings")
class VacuumReadings(MethodView):
    """The vacuum of the equipment, as it is read and held."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(VacuumSchemaIn, example=examples.VACUUM_READING)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: VacuumBody, recovery_id: int) -> Told:
        """Note what the gauge reads with the machine off; two readings tell how long it held."""
        recovery_steps.note_vacuum(services(), actor(), recovery_id, body.pressure)
        return _read(recovery_id)


@blueprint.route(f"/recoveries/<{ID}:recovery_id>/method-changes")
class MethodChanges(MethodView):
    """Another method for the rest."""

    @requires("technician")
    @idempotent
    @blueprint.arguments(MethodSchemaIn, example=examples.METHOD_CHANGE)
    @blueprint.response(201, RecoverySchema)
    def post(self, body: MethodBody, recovery_id: int) -> Told:
        """Go on by another method: the liquid first, then the rest as vapor."""
        recovery_steps.change_method(services(), actor(), recovery_id, body.method)
        return _read(recovery_id)


def _read(recovery_id: int) -> Told:
    return Told(recovery_state.read(services(), actor(), recovery_id))
