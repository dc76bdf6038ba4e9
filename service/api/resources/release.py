"""What a release would do to the air of a van or room."""

from dataclasses import dataclass

import marshmallow as ma
from flask.views import MethodView

from service.api.http.answers import Answer
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.fields import Number, QueryNumber, Text, Truth, Within
from service.api.http.quantities import ELEVATION_M, Loaded, Quantity, kilograms, pounds
from service.api.http.strict import Strict
from service.api.schemas.rules import RuleSchema
from service.cylinders.carriage import Trade
from service.operations import release
from service.operations.release import Released

blueprint = Blueprint("release", __name__, description="If everything came out into a van or room")
CUBIC_FOOT_M3 = 0.3048**3


@dataclass(frozen=True, slots=True)
class Space:
    """What it comes out into [m3], and where that is [m]."""

    volume_m3: float
    elevation_m: float | None


class ReleaseArgs(Strict):
    """Query: into what."""

    into = Space

    volume_m3 = QueryNumber(validate=Within(0, 1e6, min_inclusive=False), metadata={"example": 12.0})
    volume_ft3 = QueryNumber(validate=Within(0, 3.5e7, min_inclusive=False))
    elevation_m = QueryNumber(validate=ELEVATION_M, load_default=None)

    @ma.post_load
    def one_volume(self, data: Loaded, **_: object) -> Loaded:
        """Take either unit and refuse both."""
        given = [name for name in ("volume_m3", "volume_ft3") if name in data]
        if len(given) != 1:
            told = {"value": given or None, "expected": "one of volume_m3 or volume_ft3"}
            raise ma.ValidationError({"volume_m3": [told]})
        if "volume_ft3" in data:
            data["volume_m3"] = data.pop("volume_ft3") * CUBIC_FOOT_M3
        return data

    def loaded_names(self) -> dict[str, bool]:
        """The same, in one unit."""
        return {"volume_m3": True, "elevation_m": True}


class TradeSchema(Answer):
    """As materials of trade, 49 CFR 173.6."""

    of = Trade

    allowed = Truth(required=True)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="breaches")
    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    gross_kg = Quantity(kilograms, "gross_kg", required=True)
    gross_lb = Quantity(pounds, "gross_kg", required=True)
    left_kg = Quantity(kilograms, "left_kg", required=True)
    left_lb = Quantity(pounds, "left_kg", required=True)


@dataclass(frozen=True, slots=True)
class Into:
    """A release, and what it comes out into [m3]."""

    volume_m3: float
    released: Released


def _percent(share: float) -> float:
    return 100.0 * share


class ReleaseSchema(Answer):
    """Mean concentration, limits, cautions."""

    of = Into
    inside = "released.release"

    cylinders = ma.fields.List(Text(), required=True, attribute="released.serials")
    unweighed = ma.fields.List(
        Text(),
        required=True,
        attribute="released.unweighed",
        metadata={"description": "left out of the sum, so that it is too low"},
    )
    volume_m3 = Number(required=True)
    fills = Number(required=True, metadata={"description": "volume of the gas over that of the space"})
    concentration_ppm = Number(
        required=True, allow_none=True, metadata={"description": "null where the gas fills the space"}
    )
    oxygen_percent = Quantity(_percent, "oxygen_share", required=True, allow_none=True)
    statement = Text(
        required=True, allow_none=True, metadata={"description": "where the gas fills the space"}
    )
    rcl_share = Number(required=True, allow_none=True)
    without_rcl = ma.fields.List(Text(), required=True, attribute="unknown_limits")
    unread_rcl = ma.fields.Dict(
        required=True,
        attribute="unread_limits",
        metadata={"description": "limits not read in the standard, with how they are known"},
    )
    exceeded = ma.fields.List(ma.fields.Nested(RuleSchema), required=True, attribute="breaches")
    cautions = ma.fields.List(Text(), required=True)
    materials_of_trade = ma.fields.Nested(TradeSchema, required=True, attribute="released.trade")


@blueprint.route("/cylinders/<serial>/release")
class CylinderRelease(MethodView):
    """Out of one cylinder."""

    @requires("reader", within=())
    @blueprint.arguments(ReleaseArgs, location="query")
    @blueprint.response(200, ReleaseSchema)
    def get(self, args: Space, serial: str) -> Into:
        """Concentration in a closed van or room if all of one cylinder came out."""
        volume, height = args.volume_m3, args.elevation_m
        return Into(volume, release.of_cylinder(services(), actor(), serial, volume, elevation_m=height))


@blueprint.route("/places/<name>/release")
class PlaceRelease(MethodView):
    """Out of all cylinders of a vehicle."""

    @requires("reader", within=())
    @blueprint.arguments(ReleaseArgs, location="query")
    @blueprint.response(200, ReleaseSchema)
    def get(self, args: Space, name: str) -> Into:
        """Concentration if all of every cylinder at a place came out together, and what it weighs."""
        volume, height = args.volume_m3, args.elevation_m
        return Into(volume, release.of_place(services(), actor(), name, volume, elevation_m=height))
