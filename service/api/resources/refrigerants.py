"""``/refrigerants``: the catalogue and the saturation of each."""

from flask.views import MethodView

from service.api.http.answers import Listed
from service.api.http.auth import requires
from service.api.http.conditional import etagged
from service.api.http.current import services
from service.api.http.document import Blueprint
from service.api.schemas.refrigerants import (
    Asked,
    RefrigerantListSchema,
    RefrigerantSchema,
    SaturationArgs,
    SaturationSchema,
)
from service.operations import refrigerants
from service.operations.refrigerants import Saturation
from service.refrigerants.catalogue import Refrigerant

blueprint = Blueprint("refrigerants", __name__, description="The catalogue and saturation")


@blueprint.route("/refrigerants")
class Refrigerants(MethodView):
    """The catalogue."""

    @requires("reader", "worker", within=())
    @etagged
    @blueprint.response(200, RefrigerantListSchema)
    def get(self) -> Listed[Refrigerant]:
        """List every designation."""
        return Listed([*services().catalogue.values()])


@blueprint.route("/refrigerants/<designation>")
class OneRefrigerant(MethodView):
    """One designation."""

    @requires("reader", "worker", within=())
    @etagged
    @blueprint.response(200, RefrigerantSchema)
    def get(self, designation: str) -> Refrigerant:
        """Read one designation with its sources; `r410a` finds R-410A."""
        return refrigerants.named(services(), designation)


@blueprint.route("/refrigerants/<designation>/saturation")
class RefrigerantSaturation(MethodView):
    """Saturation of one designation."""

    @requires("reader", "worker", within=())
    @blueprint.arguments(SaturationArgs, location="query")
    @blueprint.response(200, SaturationSchema)
    def get(self, args: Asked, designation: str) -> Saturation:
        """Answer bubble and dew pressure at a temperature, or temperature at a pressure."""
        if args.temp_k is not None:
            return refrigerants.at_temperature(services(), designation, args.temp_k)
        if args.pressure is None:
            raise AssertionError("the schema asks for one of them")
        return refrigerants.at_pressure(services(), designation, args.pressure)
