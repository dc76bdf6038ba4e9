"""``/verdicts``: pairs in, verdict out, nothing stored; and the verdicts on a cylinder."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.paging import PageArgs, answer, page_of, request_of
from service.api.rules_json import encode_stake
from service.api.schemas.verdicts import (
    NewestVerdictSchema,
    StoredVerdictSchema,
    VerdictArgs,
    VerdictRequestSchema,
    VerdictSchema,
    pressure_of,
    uncertainties_of,
)
from service.api.verdict_json import encode, encode_stored
from service.operations import stakes, stateless, verdicts
from service.operations.atmosphere import PressureReading
from service.operations.observing import seen_of
from service.operations.stateless import Question, Reading

blueprint = Blueprint("verdicts", __name__, description="What pairs say about a cylinder")


@blueprint.route("/verdicts")
class Verdicts(MethodView):
    """The stateless verdict."""

    @requires("reader", "worker")
    @blueprint.arguments(VerdictArgs, location="query")
    @blueprint.arguments(VerdictRequestSchema, example=examples.VERDICT)
    @blueprint.response(200, VerdictSchema)
    def post(self, args: dict[str, Any], body: dict[str, Any]) -> dict[str, Any]:
        """Judge pairs of one cylinder's contents, and what is known of it."""
        question = Question(
            readings=tuple(_reading(body, pair) for pair in body["pairs"]),
            claimed_designation=body.get("claimed_designation"),
            water_capacity_kg=body.get("cylinder", {}).get("water_capacity_kg"),
            net_mass_kg=body.get("cylinder", {}).get("net_mass_kg"),
            provenance=body.get("cylinder", {}).get("provenance", "unknown"),
            prior=body["prior"],
            seen=seen_of(body.get("observations", {})),
        )
        return encode(
            stateless.judge_question(services(), question, explain=args["explain"], chart=args["chart"])
        )


@blueprint.route("/cylinders/<serial>/verdict")
class NewestVerdict(MethodView):
    """The newest verdict on a cylinder."""

    @requires("reader")
    @blueprint.response(200, NewestVerdictSchema)
    def get(self, serial: str) -> dict[str, Any]:
        """Read the newest verdict on the present contents, and what is at stake in them."""
        found = stakes.of_cylinder(services(), actor(), serial)
        encoded = encode_stored(serial, verdicts.newest(services(), actor(), serial), found.advice)
        return {**encoded, "stake": encode_stake(found.stake)}


@blueprint.route("/cylinders/<serial>/verdicts")
class CylinderVerdicts(MethodView):
    """Every verdict on a cylinder."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(StoredVerdictSchema))
    def get(self, args: dict[str, Any], serial: str) -> dict[str, Any]:
        """List verdicts, newest first."""
        page = verdicts.listed(services(), actor(), serial, request_of(args))
        return answer(page, lambda verdict: encode_stored(serial, verdict))


@blueprint.route("/cylinders/<serial>/chart")
class CylinderChart(MethodView):
    """What is needed to draw a cylinder's evidence."""

    @requires("reader")
    @blueprint.arguments(VerdictArgs(only=["explain"]), location="query")
    @blueprint.response(200, VerdictSchema)
    def get(self, args: dict[str, Any], serial: str) -> dict[str, Any]:
        """Judge the present evidence again, with curves, bands and ellipses."""
        return encode(verdicts.anew(services(), actor(), serial, explain=args["explain"], chart=True))


def _reading(body: dict[str, Any], pair: dict[str, Any]) -> Reading:
    pressure = pressure_of(pair)
    ambient_kpa = body["ambient_pressure_kpa"]
    if pressure["ambient_pa"] is None and ambient_kpa is not None:
        pressure["ambient_pa"] = ambient_kpa * 1000.0
    if pressure["elevation_m"] is None:
        pressure["elevation_m"] = body["elevation_m"]
    return Reading(
        temp_k=pair["temp_k"],
        pressure=PressureReading(**pressure),
        temperature_device=pair.get("temperature_device"),
        pressure_device=pair.get("pressure_device"),
        **uncertainties_of(pair),
    )
