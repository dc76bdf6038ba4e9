"""``/places``: shops, vans and sites, with their elevation."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import PageArgs, Paged
from service.api.schemas.others import NewPlace, NewPlaceSchema, PlaceChangeSchema, PlaceSchema
from service.operations import places
from service.operations.places import PlaceChange
from service.store.places import Place

blueprint = Blueprint("places", __name__, description="Shops, vans and sites")


@blueprint.route("/places")
class Places(MethodView):
    """Every place."""

    @requires("reader", "worker", within=())
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, page_of(PlaceSchema))
    def get(self, args: Paged) -> Listed[Place]:
        """List places."""
        return rows(places.listed(services(), actor(), args.page))

    @requires("technician")
    @idempotent
    @blueprint.arguments(NewPlaceSchema, example=examples.PLACE)
    @blueprint.response(201, PlaceSchema)
    def post(self, body: NewPlace) -> Place:
        """Make a place; its name becomes part of MQTT topics."""
        return places.create(
            services(), actor(), name=body.name, kind=body.kind, elevation_m=body.elevation_m
        )


@blueprint.route("/places/<name>")
class OnePlace(MethodView):
    """One place."""

    @requires("technician", within=())
    @blueprint.arguments(PlaceChangeSchema, example=examples.PLACE_CHANGE)
    @blueprint.response(200, PlaceSchema)
    def patch(self, body: PlaceChange, name: str) -> Place:
        """Correct a place's elevation, for pairs from now on, or choose its law."""
        return places.change(services(), actor(), name, body)
