"""How full a cylinder is, and how much more it may take."""

from dataclasses import dataclass

import marshmallow as ma
from flask.views import MethodView

from service.api.http.answers import Answer
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.fields import Number, Text
from service.api.http.quantities import Quantity, celsius, fahrenheit, kilograms, pounds
from service.api.schemas.rules import FillingSchema, LimitOf, limit_of
from service.cylinders.judgement.judge import Judgement
from service.operations.support import judgements

blueprint = Blueprint("filling", __name__, description="How full a cylinder is")


@dataclass(frozen=True, slots=True)
class Filled:
    """A judgement, for what it says of the filling."""

    judgement: Judgement

    @property
    def limit(self) -> LimitOf | None:
        """The least of all limits."""
        return limit_of(self.judgement.filling.limit, self.judgement.state.tare_kg)


class FilledSchema(Answer):
    """The present filling, by the worst of what it may hold."""

    of = Filled
    inside = "judgement.filling"

    cylinder = Text(required=True, attribute="judgement.state.serial")
    judged_by = ma.fields.List(Text(), required=True)
    net_mass_kg = Quantity(kilograms, "net_mass_kg", required=True, allow_none=True)
    net_mass_lb = Quantity(pounds, "net_mass_kg", required=True, allow_none=True)
    limit = ma.fields.Nested(FillingSchema, required=True, allow_none=True)
    remaining_kg = Quantity(
        kilograms,
        "judgement.room_kg",
        required=True,
        allow_none=True,
        metadata={"description": "none where nothing may go in, or nobody can tell"},
    )
    remaining_lb = Quantity(pounds, "judgement.room_kg", required=True, allow_none=True)
    liquid_fraction = Number(required=True, allow_none=True)
    liquid_full_temperature_c = Quantity(celsius, "liquid_full_temp_k", required=True, allow_none=True)
    liquid_full_temperature_f = Quantity(fahrenheit, "liquid_full_temp_k", required=True, allow_none=True)


@blueprint.route("/cylinders/<serial>/filling")
class Filling(MethodView):
    """One cylinder's filling."""

    @requires("reader", within=())
    @blueprint.response(200, FilledSchema)
    def get(self, serial: str) -> Filled:
        """Greatest net and gross mass, what is in it, what may still go in, when it would be liquid-full."""
        return Filled(judgements.of_serial(services(), actor(), serial).judgement)
