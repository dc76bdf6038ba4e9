"""``/refrigerants``: the catalogue and the saturation of each."""

from dataclasses import asdict
from typing import Any

from flask.views import MethodView

from service.api.auth import requires
from service.api.conditional import etagged
from service.api.current import services
from service.api.document import Blueprint
from service.api.quantities import pressures, temperatures
from service.api.schemas.refrigerants import (
    RefrigerantListSchema,
    RefrigerantSchema,
    SaturationArgs,
    SaturationSchema,
)
from service.api.schemas.verdicts import pressure_of
from service.operations import refrigerants
from service.operations.atmosphere import PressureReading
from service.operations.refrigerants import Saturation

blueprint = Blueprint("refrigerants", __name__, description="The catalogue and saturation")


@blueprint.route("/refrigerants")
class Refrigerants(MethodView):
    """The catalogue."""

    @requires("reader", "worker")
    @etagged
    @blueprint.response(200, RefrigerantListSchema)
    def get(self) -> dict[str, Any]:
        """List every designation."""
        items = [
            {
                "designation": item.designation,
                "components": item.components,
                "safety_class": item.safety_class.value,
                "relative_uncertainty": item.relative_uncertainty,
            }
            for item in services().catalogue.values()
        ]
        return {"items": items, "next": None}


@blueprint.route("/refrigerants/<designation>")
class OneRefrigerant(MethodView):
    """One designation."""

    @requires("reader", "worker")
    @etagged
    @blueprint.response(200, RefrigerantSchema)
    def get(self, designation: str) -> dict[str, Any]:
        """Read one designation with its sources; `r410a` finds R-410A."""
        return asdict(refrigerants.named(services(), designation))


@blueprint.route("/refrigerants/<designation>/saturation")
class RefrigerantSaturation(MethodView):
    """Saturation of one designation."""

    @requires("reader", "worker")
    @blueprint.arguments(SaturationArgs, location="query")
    @blueprint.response(200, SaturationSchema)
    def get(self, args: dict[str, Any], designation: str) -> dict[str, Any]:
        """Answer bubble and dew pressure at a temperature, or temperature at a pressure."""
        if "temp_k" in args:
            found = refrigerants.at_temperature(services(), designation, args["temp_k"])
        else:
            found = refrigerants.at_pressure(services(), designation, PressureReading(**pressure_of(args)))
        return _encode(found)


def _encode(found: Saturation) -> dict[str, Any]:
    encoded: dict[str, Any] = {
        "designation": found.designation,
        "relative_uncertainty": found.relative_uncertainty,
    }
    if found.asked_temp_k is not None:
        encoded |= temperatures("temperature", found.asked_temp_k)
        encoded |= pressures("bubble_pressure", found.bubble) | pressures("dew_pressure", found.dew)
    else:
        encoded |= pressures("absolute_pressure", found.asked_pressure_pa)
        encoded |= temperatures("bubble_temperature", found.bubble) | temperatures(
            "dew_temperature", found.dew
        )
    return encoded
