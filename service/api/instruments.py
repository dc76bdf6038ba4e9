"""``/instruments``: how far thermometers and gauges are off, their checks, and when the next is due."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import kpa
from service.api.schemas.instruments import (
    CheckArgs,
    ErrorArgs,
    InstrumentCheckSchema,
    InstrumentListSchema,
    InstrumentSchema,
    NewInstrumentCheckSchema,
    SetErrorsSchema,
)
from service.operations import instruments
from service.operations.errors import FieldError, Invalid
from service.operations.instruments import Instrument, NewCheck, SetError
from service.store.instruments import StoredCheck
from service.verdict.instruments.belief import DOUBTED

blueprint = Blueprint("instruments", __name__, description="How far thermometers and gauges are off")


@blueprint.route("/instruments")
class Instruments(MethodView):
    """Every instrument of which something is known."""

    @requires("reader")
    @blueprint.response(200, InstrumentListSchema)
    def get(self) -> dict[str, Any]:
        """List instruments with what is believed of their errors, those in doubt first."""
        return {"items": [_instrument(one) for one in instruments.listed(services(), actor())], "next": None}


@blueprint.route("/instruments/<device>")
class OneInstrument(MethodView):
    """One instrument."""

    @requires("reader")
    @blueprint.response(200, InstrumentSchema)
    def get(self, device: str) -> dict[str, Any]:
        """Read what is believed of an instrument now."""
        return _instrument(instruments.read(services(), actor(), device))


@blueprint.route("/instruments/<device>/error")
class InstrumentError(MethodView):
    """What was believed at a time."""

    @requires("reader")
    @blueprint.arguments(ErrorArgs, location="query")
    @blueprint.response(200, SetErrorsSchema)
    def get(self, args: dict[str, Any], device: str) -> dict[str, Any]:
        """Read what was believed of an instrument's errors at a time, now where none is stated."""
        found = instruments.errors_at(services(), actor(), device, args["at"])
        return {"device": device, "sets": [_set(one) for one in found]}


@blueprint.route("/instruments/<device>/checks")
class Checks(MethodView):
    """Checks of one instrument by hand."""

    @requires("reader")
    @blueprint.arguments(CheckArgs, location="query")
    @blueprint.response(200, page_of(InstrumentCheckSchema))
    def get(self, args: dict[str, Any], device: str) -> dict[str, Any]:
        """List an instrument's checks, newest first."""
        return answer(instruments.checks(services(), actor(), device, request_of(args)), _check)

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewInstrumentCheckSchema, example=examples.INSTRUMENT_CHECK)
    @blueprint.response(201, InstrumentCheckSchema)
    def post(self, body: dict[str, Any], device: str) -> dict[str, Any]:
        """Note a check: ice bath, open air, beside a reference instrument, or a certificate."""
        return _check(instruments.check(services(), actor(), _new(device, body)))


def _new(device: str, body: dict[str, Any]) -> NewCheck:
    """A check from either unit: kelvins are the thermometer's, kilopascals the gauge's."""
    pressure_pa = body.pop("at_absolute_pressure_kpa", None)
    pressure_pa = None if pressure_pa is None else 1e3 * pressure_pa
    error_k, error_pa = body.pop("error_k", None), body.pop("error_pa", None)
    uncertainty_k, uncertainty_pa = body.pop("uncertainty_k", None), body.pop("uncertainty_pa", None)
    if error_k is not None:
        if uncertainty_pa is not None:
            raise Invalid(FieldError("uncertainty_kpa", uncertainty_pa / 1e3, "uncertainty_k beside error_k"))
        return NewCheck(device, quantity="temperature_k", error=error_k, uncertainty=uncertainty_k, **body)
    if uncertainty_k is not None:
        raise Invalid(FieldError("uncertainty_k", uncertainty_k, "uncertainty_kpa beside error_kpa"))
    quantity = "zero_pa" if pressure_pa is None else "pressure_pa"
    return NewCheck(
        device,
        quantity=quantity,
        error=error_pa,
        uncertainty=uncertainty_pa,
        pressure_pa=pressure_pa,
        **body,
    )


def _check(done: StoredCheck) -> dict[str, Any]:
    is_temperature = done.quantity == "temperature_k"
    names = (
        "id",
        "device",
        "method",
        "certificate",
        "note",
        "checked_at",
        "due_at",
        "recorded_at",
        "recorded_by",
    )
    return {
        **{name: getattr(done, name) for name in names},
        "error_k": done.error if is_temperature else None,
        "error_kpa": None if is_temperature else kpa(done.error),
        "uncertainty_k": done.uncertainty if is_temperature else None,
        "uncertainty_kpa": None if is_temperature else kpa(done.uncertainty),
        "at_absolute_pressure_kpa": kpa(done.pressure_pa),
    }


def _instrument(one: Instrument) -> dict[str, Any]:
    return {
        "device": one.device,
        "sets": [_set(each) for each in one.sets],
        "last_check": None if one.last_check is None else _check(one.last_check),
        "check_due_at": one.due_at,
        "check_overdue": one.overdue,
    }


def _set(one: SetError) -> dict[str, Any]:
    row, belief = one.row, one.belief
    wide = 1.96 * row.uncertainty_k
    mean = belief.moments[0]
    return {
        "thermometer": row.thermometer,
        "gauge": row.gauge,
        "learned_at": row.at,
        "settled_pairs": round(belief.pairs, 2),
        "combined_k": _interval(row.combined_k, (row.combined_k - wide, row.combined_k + wide), 1.0),
        "temperature_k": _interval(mean[0], belief.interval(0), 1.0),
        "zero_kpa": _interval(mean[1], belief.interval(1), 1e-3),
        "gain_percent": _interval(mean[2], belief.interval(2), 100.0),
        "doubt": round(row.doubt, 4),
        "thermometer_doubt": round(belief.thermometer_doubt, 4),
        "gauge_doubt": round(belief.gauge_doubt, 4),
        "in_doubt": row.doubt >= DOUBTED,
    }


def _interval(mean: float, ends: tuple[float, float], scale: float) -> dict[str, float]:
    return {
        "mean": round(scale * float(mean), 4),
        "low": round(scale * ends[0], 4),
        "high": round(scale * ends[1], 4),
    }
