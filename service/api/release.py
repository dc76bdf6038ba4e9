"""What a release would do to the air of a van or room."""

from typing import Any

import marshmallow as ma
from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.fields import Number, QueryNumber, Text, Truth, Within
from service.api.quantities import ELEVATION_M, masses
from service.api.rules_json import encode_said
from service.api.schemas.transfers import RuleSchema
from service.api.strict import Strict
from service.operations import release
from service.operations.release import Answer

blueprint = Blueprint("release", __name__, description="If everything came out into a van or room")
CUBIC_FOOT_M3 = 0.3048**3


class ReleaseArgs(Strict):
    """Query: into what."""

    volume_m3 = QueryNumber(validate=Within(0, 1e6, min_inclusive=False), metadata={"example": 12.0})
    volume_ft3 = QueryNumber(validate=Within(0, 3.5e7, min_inclusive=False))
    elevation_m = QueryNumber(validate=ELEVATION_M, load_default=None)

    @ma.post_load
    def one_volume(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Take either unit and refuse both."""
        given = [name for name in ("volume_m3", "volume_ft3") if name in data]
        if len(given) != 1:
            told = {"value": given or None, "expected": "one of volume_m3 or volume_ft3"}
            raise ma.ValidationError({"volume_m3": [told]})
        if "volume_ft3" in data:
            data["volume_m3"] = data.pop("volume_ft3") * CUBIC_FOOT_M3
        return data


class TradeSchema(ma.Schema):
    """As materials of trade, 49 CFR 173.6."""

    allowed = Truth(required=True)
    reasons = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    cautions = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    gross_kg = Number(required=True)
    gross_lb = Number(required=True)
    left_kg = Number(required=True)
    left_lb = Number(required=True)


class ReleaseSchema(ma.Schema):
    """Mean concentration, limits, cautions."""

    cylinders = ma.fields.List(Text(), required=True)
    unweighed = ma.fields.List(
        Text(), required=True, metadata={"description": "left out of the sum, so that it is too low"}
    )
    volume_m3 = Number(required=True)
    fills = Number(required=True, metadata={"description": "volume of the gas over that of the space"})
    concentration_ppm = Number(
        required=True, allow_none=True, metadata={"description": "null where the gas fills the space"}
    )
    oxygen_percent = Number(required=True, allow_none=True)
    statement = Text(
        required=True, allow_none=True, metadata={"description": "where the gas fills the space"}
    )
    rcl_share = Number(required=True, allow_none=True)
    without_rcl = ma.fields.List(Text(), required=True)
    unread_rcl = ma.fields.Dict(
        required=True, metadata={"description": "limits not read in the standard, with how they are known"}
    )
    exceeded = ma.fields.List(ma.fields.Nested(RuleSchema), required=True)
    cautions = ma.fields.List(Text(), required=True)
    materials_of_trade = ma.fields.Nested(TradeSchema, required=True)


@blueprint.route("/cylinders/<serial>/release")
class CylinderRelease(MethodView):
    """Out of one cylinder."""

    @requires("reader")
    @blueprint.arguments(ReleaseArgs, location="query")
    @blueprint.response(200, ReleaseSchema)
    def get(self, args: dict[str, Any], serial: str) -> dict[str, Any]:
        """Concentration in a closed van or room if all of one cylinder came out."""
        volume, height = args["volume_m3"], args["elevation_m"]
        return _encode(release.of_cylinder(services(), actor(), serial, volume, elevation_m=height), volume)


@blueprint.route("/places/<name>/release")
class PlaceRelease(MethodView):
    """Out of all cylinders of a vehicle."""

    @requires("reader")
    @blueprint.arguments(ReleaseArgs, location="query")
    @blueprint.response(200, ReleaseSchema)
    def get(self, args: dict[str, Any], name: str) -> dict[str, Any]:
        """Concentration if all of every cylinder at a place came out together, and what it weighs."""
        volume, height = args["volume_m3"], args["elevation_m"]
        return _encode(release.of_place(services(), actor(), name, volume, elevation_m=height), volume)


def _encode(answer: Answer, volume_m3: float) -> dict[str, Any]:
    air, trade = answer.release, answer.trade
    return {
        "cylinders": list(answer.serials),
        "unweighed": list(answer.unweighed),
        "volume_m3": volume_m3,
        "fills": air.fills,
        "concentration_ppm": air.concentration_ppm,
        "oxygen_percent": None if air.oxygen_share is None else 100.0 * air.oxygen_share,
        "statement": air.statement,
        "rcl_share": air.rcl_share,
        "without_rcl": list(air.unknown_limits),
        "unread_rcl": dict(air.unread_limits),
        "exceeded": [encode_said(breach) for breach in air.breaches],
        "cautions": list(air.cautions),
        "materials_of_trade": {
            "allowed": not trade.breaches,
            "reasons": [encode_said(breach) for breach in trade.breaches],
            "cautions": [encode_said(caution) for caution in trade.cautions],
            **masses("gross", trade.gross_kg),
            **masses("left", trade.left_kg),
        },
    }
