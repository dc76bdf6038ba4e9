"""How full a cylinder is, and how much more it may take."""

from typing import Any

import marshmallow as ma
from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.fields import Number, Text
from service.api.quantities import masses, temperatures
from service.api.rules_json import encode_limit
from service.api.schemas.transfers import FillingSchema
from service.operations import judgements

blueprint = Blueprint("filling", __name__, description="How full a cylinder is")


class FilledSchema(ma.Schema):
    """The present filling, by the worst of what it may hold."""

    cylinder = Text(required=True)
    judged_by = ma.fields.List(Text(), required=True)
    net_mass_kg = Number(required=True, allow_none=True)
    net_mass_lb = Number(required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    remaining_kg = Number(
        required=True,
        allow_none=True,
        metadata={"description": "none where nothing may go in, or nobody can tell"},
    )
    remaining_lb = Number(required=True, allow_none=True)
    liquid_fraction = Number(required=True, allow_none=True)
    liquid_full_temperature_c = Number(required=True, allow_none=True)
    liquid_full_temperature_f = Number(required=True, allow_none=True)


@blueprint.route("/cylinders/<serial>/filling")
class Filling(MethodView):
    """One cylinder's filling."""

    @requires("reader")
    @blueprint.response(200, FilledSchema)
    def get(self, serial: str) -> dict[str, Any]:
        """Greatest net and gross mass, what is in it, what may still go in, when it would be liquid-full."""
        judgement = judgements.of_serial(services(), actor(), serial).judgement
        filled = judgement.filling
        return {
            "cylinder": judgement.state.serial,
            "judged_by": list(filled.judged_by),
            **masses("net_mass", filled.net_mass_kg),
            "limit": encode_limit(filled.limit, judgement.state.tare_kg),
            **masses("remaining", judgement.room_kg),
            "liquid_fraction": filled.liquid_fraction,
            **temperatures("liquid_full_temperature", filled.liquid_full_temp_k),
        }
