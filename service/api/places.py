"""``/places``: shops, vans and sites, with their elevation."""

from dataclasses import asdict
from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import PageArgs, answer, page_of, request_of
from service.api.schemas.others import NewPlaceSchema, PlaceChangeSchema, PlaceSchema
from service.operations import places
from service.store.places import Place

blueprint = Blueprint("places", __name__, description="Shops, vans and sites")


@blueprint.route("/places")
class Places(MethodView):
    """Every place."""

    @requires("reader", "worker")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(PlaceSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List places."""
        return answer(places.listed(services(), actor(), request_of(args)), asdict)

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewPlaceSchema, example=examples.PLACE)
    @blueprint.response(201, PlaceSchema)
    def post(self, body: dict[str, Any]) -> Place:
        """Make a place; its name becomes part of MQTT topics."""
        return places.create(services(), actor(), **body)


@blueprint.route("/places/<name>")
class OnePlace(MethodView):
    """One place."""

    @requires("technician")
    @blueprint.arguments(PlaceChangeSchema, example=examples.PLACE_CHANGE)
    @blueprint.response(200, PlaceSchema)
    def patch(self, body: dict[str, Any], name: str) -> Place:
        """Correct a place's elevation, for pairs from now on, or choose its law."""
        return places.change(services(), actor(), name, body)
