"""``/instruments``: how far thermometers and gauges are off, their checks, and when the next is due."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, answer, page_of
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import PageArgs, Paged
from service.api.http.quantities import kpa
from service.api.schemas.instruments import (
    CheckBody,
    CheckTold,
    ErrorArgs,
    ErrorQuery,
    InstrumentCheckSchema,
    InstrumentListSchema,
    InstrumentSchema,
    InstrumentTold,
    Interval,
    NewInstrumentCheckSchema,
    SetErrorsSchema,
    SetsTold,
    SetTold,
)
from service.operations import instruments
from service.operations.instruments import Instrument, NewCheck, SetError
from service.operations.support.errors import FieldError, Invalid
from service.store.instruments import StoredCheck
from service.verdict.instruments.belief import DOUBTED

blueprint = Blueprint("instruments", __name__, description="How far thermometers and gauges are off")


@blueprint.route("/instruments")
class Instruments(MethodView):
    """Every instrument of which something is known."""

    @requires("reader")
    @blueprint.response(200, InstrumentListSchema)
    def get(self) -> Listed[InstrumentTold]:
        """List instruments with what is believed of their errors, those in doubt first."""
        return Listed([_instrument(one) for one in instruments.listed(services(), actor())])


@blueprint.route("/instruments/<device>")
class OneInstrument(MethodView):
    """One instrument."""

    @requires("reader")
    @blueprint.response(200, InstrumentSchema)
    def get(self, device: str) -> InstrumentTold:
        """Read what is believed of an instrument now."""
        return _instrument(instruments.read(services(), actor(), device))


@blueprint.route("/instruments/<device>/error")
class InstrumentError(MethodView):
    """What was believed at a time."""

    @requires("reader")
    @blueprint.arguments(ErrorArgs, location="query")
    @blueprint.response(200, SetErrorsSchema)
    def get(self, args: ErrorQuery, device: str) -> SetsTold:
        """Read what was believed of an instrument's errors at a time, now where none is stated."""
        found = instruments.errors_at(services(), actor(), device, args.at)
        return SetsTold(device, [_set(one) for one in found])


@blueprint.route("/instruments/<device>/checks")
class Checks(MethodView):
    """Checks of one instrument by hand."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(InstrumentCheckSchema))
    def get(self, args: Paged, device: str) -> Listed[CheckTold]:
        """List an instrument's checks, newest first."""
        return answer(instruments.checks(services(), actor(), device, args.page), _check)

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewInstrumentCheckSchema, example=examples.INSTRUMENT_CHECK)
    @blueprint.response(201, InstrumentCheckSchema)
    def post(self, body: CheckBody, device: str) -> CheckTold:
        """Note a check: ice bath, open air, beside a reference instrument, or a certificate."""
        return _check(instruments.check(services(), actor(), _new(device, body)))


def _new(device: str, body: CheckBody) -> NewCheck:
    """A check from either unit: kelvins are the thermometer's, kilopascals the gauge's."""
    error, uncertainty, quantity = body.error_k, body.uncertainty_k, "temperature_k"
    stray = body.uncertainty_pa
    if error is None:
        quantity = "zero_pa" if body.at_pressure_pa is None else "pressure_pa"
        error, uncertainty, stray = body.error_pa or 0.0, body.uncertainty_pa, body.uncertainty_k
    if stray is not None:
        raise Invalid(FieldError("uncertainty", stray, "the unit of the error"))
    return NewCheck(
        device,
        body.method,
        quantity,
        error,
        uncertainty,
        body.at_pressure_pa,
        body.checked_at,
        body.due_at,
        body.certificate,
        body.note,
    )


def _check(done: StoredCheck) -> CheckTold:
    thermal = done.quantity == "temperature_k"
    return CheckTold(
        id=done.id,
        device=done.device,
        method=done.method,
        error_k=done.error if thermal else None,
        error_kpa=None if thermal else kpa(done.error),
        uncertainty_k=done.uncertainty if thermal else None,
        uncertainty_kpa=None if thermal else kpa(done.uncertainty),
        at_absolute_pressure_kpa=None if done.pressure_pa is None else kpa(done.pressure_pa),
        certificate=done.certificate,
        note=done.note,
        checked_at=done.checked_at,
        due_at=done.due_at,
        recorded_at=done.recorded_at,
        recorded_by=done.recorded_by,
    )


def _instrument(one: Instrument) -> InstrumentTold:
    last = None if one.last_check is None else _check(one.last_check)
    return InstrumentTold(one.device, [_set(each) for each in one.sets], last, one.due_at, one.overdue)


def _set(one: SetError) -> SetTold:
    row, belief = one.row, one.belief
    wide = 1.96 * row.uncertainty_k
    mean = belief.moments[0]
    return SetTold(
        thermometer=row.thermometer,
        gauge=row.gauge,
        learned_at=row.at,
        settled_pairs=round(belief.pairs, 2),
        combined_k=_interval(row.combined_k, (row.combined_k - wide, row.combined_k + wide), 1.0),
        temperature_k=_interval(mean[0], belief.interval(0), 1.0),
        zero_kpa=_interval(mean[1], belief.interval(1), 1e-3),
        gain_percent=_interval(mean[2], belief.interval(2), 100.0),
        doubt=round(row.doubt, 4),
        thermometer_doubt=round(belief.thermometer_doubt, 4),
        gauge_doubt=round(belief.gauge_doubt, 4),
        in_doubt=row.doubt >= DOUBTED,
    )


def _interval(mean: float, ends: tuple[float, float], scale: float) -> Interval:
    low, high = ends
    return Interval(round(scale * float(mean), 4), round(scale * low, 4), round(scale * high, 4))
