"""``/equilibrium-pairs`` and the pairs of a cylinder."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import masses, pressures, temperatures
from service.api.schemas.pairs import NewPairSchema, PairArgs, RecordedSchema, StoredPairSchema, new_pair
from service.api.schemas.verdicts import pressure_of, uncertainties_of
from service.api.verdict_json import encode_stored
from service.operations import pairs
from service.store.pairs import StoredPair

blueprint = Blueprint("pairs", __name__, description="Equilibrium pairs: the evidence")


@blueprint.route("/equilibrium-pairs")
class EquilibriumPairs(MethodView):
    """Taking evidence."""

    @requires("technician", "worker")
    @idempotent
    @blueprint.arguments(NewPairSchema, example=examples.PAIR)
    @blueprint.response(201, RecordedSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Take a pair of a hookup or of a cylinder, and answer the new verdict."""
        new = new_pair(body, pressure_of(body), uncertainties_of(body))
        recorded = pairs.record(services(), actor(), new)
        verdict = recorded.verdict
        return {
            "pair": encode_pair(recorded.serial, recorded.pair),
            "verdict": None if verdict is None else encode_stored(recorded.serial, verdict, recorded.advice),
        }


@blueprint.route("/cylinders/<serial>/pairs")
class CylinderPairs(MethodView):
    """Evidence of a cylinder."""

    @requires("reader")
    @blueprint.arguments(PairArgs, location="query")
    @blueprint.response(200, page_of(StoredPairSchema))
    def get(self, args: dict[str, Any], serial: str) -> dict[str, Any]:
        """List pairs, newest first."""
        page = pairs.listed(services(), actor(), serial, request_of(args), **args)
        return answer(page, lambda pair: encode_pair(serial, pair))


def encode_pair(serial: str, pair: StoredPair) -> dict[str, Any]:
    """A stored pair as JSON, in both units."""
    atmosphere_pa = pair.atmosphere_pa
    gauge_pa = None if atmosphere_pa is None else pair.pressure_pa - atmosphere_pa
    return {
        "id": pair.id,
        "cylinder": serial,
        "epoch": pair.epoch,
        "hookup": pair.hookup_id,
        **temperatures("temperature", pair.temp_k),
        **pressures("absolute_pressure", pair.pressure_pa),
        **pressures("gauge_pressure", gauge_pa),
        **pressures("atmospheric_pressure", atmosphere_pa),
        "atmospheric_pressure_source": pair.atmosphere_source,
        "temperature_uncertainty_k": pair.temp_noise_k,
        "pressure_uncertainty_kpa": pair.pressure_noise_pa / 1000.0,
        "temperature_bias_uncertainty_k": pair.temp_bias_k,
        "pressure_bias_uncertainty_kpa": pair.pressure_bias_pa / 1000.0,
        "atmospheric_pressure_uncertainty_kpa": pair.atmosphere_bias_pa / 1000.0,
        "pressure_device": pair.pressure_device,
        "temperature_device": pair.temperature_device,
        "settled_at": pair.settled_at,
        "from_at": pair.from_at,
        "to_at": pair.to_at,
        "provisional": pair.provisional,
        "reasons": pair.reasons,
        **masses("mass", pair.mass_kg),
        **temperatures("ambient_temperature", pair.ambient_temp_k),
        "recorded_by": pair.recorded_by,
        "received_at": pair.received_at,
    }
