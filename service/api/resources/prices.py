"""``/prices``: the owner's own table of credits and charges."""

from dataclasses import dataclass
from decimal import Decimal

import marshmallow as ma
from flask import request
from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Answer, Listed
from service.api.http.auth import requires
from service.api.http.conditional import matches, version_tag
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.fields import Instant, Matches, Number, Text, Within
from service.api.http.quantities import Quantity, number
from service.api.http.strict import Strict
from service.operations import prices
from service.store.prices import StoredPrice
from service.units import POUND_KG

blueprint = Blueprint(
    "prices", __name__, description="Credit per kilogram reclaimed, charge per kilogram destroyed"
)
Tagged = tuple[StoredPrice, dict[str, str]]
MONEY = Within(0, 1_000_000)


@dataclass(frozen=True, slots=True)
class PriceBody:
    """The owner's prices for one designation."""

    credit_per_kg: float
    charge_per_kg: float
    currency: str


class PriceSchemaIn(Strict):
    """The owner's prices for one designation."""

    into = PriceBody

    credit_per_kg = number(MONEY, required=True)
    charge_per_kg = number(MONEY, required=True)
    currency = Text(load_default="USD", validate=Matches(r"[A-Z]{3}", "three capital letters such as USD"))


def _per_pound(per_kg: float) -> float:
    return round(float(per_kg) * POUND_KG, 4)


class PriceSchema(Answer):
    """A price, per kilogram and per pound."""

    of = StoredPrice

    designation = Text(required=True)
    credit_per_kg = Number(required=True)
    credit_per_lb = Quantity(_per_pound, "credit_per_kg", required=True)
    charge_per_kg = Number(required=True)
    charge_per_lb = Quantity(_per_pound, "charge_per_kg", required=True)
    currency = Text(required=True)
    updated_at = Instant(required=True)
    updated_by = Text(required=True)


class PriceListSchema(Answer):
    """The table."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(PriceSchema), required=True)
    next = Text(required=True, allow_none=True)


@blueprint.route("/prices")
class Prices(MethodView):
    """The table."""

    @requires("technician")
    @blueprint.response(200, PriceListSchema)
    def get(self) -> Listed[StoredPrice]:
        """List every price."""
        return Listed(prices.listed(services(), actor()))


@blueprint.route("/prices/<designation>")
class OnePrice(MethodView):
    """One designation's price."""

    @requires("supervisor")
    @blueprint.arguments(PriceSchemaIn, example=examples.PRICE)
    @blueprint.response(200, PriceSchema)
    def put(self, body: PriceBody, designation: str) -> Tagged:
        """Set a price; with `If-Match` only while it is what was read."""

        def fresh(price: StoredPrice) -> bool:
            return "If-Match" not in request.headers or matches(price.version)

        stored = prices.put(
            services(),
            actor(),
            designation,
            credit=Decimal(str(body.credit_per_kg)),
            charge=Decimal(str(body.charge_per_kg)),
            currency=body.currency,
            fresh=fresh,
        )
        return stored, {"ETag": version_tag(stored.version)}

    @requires("supervisor")
    @blueprint.response(204)
    def delete(self, designation: str) -> None:
        """Take a price out."""
        prices.remove(services(), actor(), designation)
