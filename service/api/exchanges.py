"""``/exchanges``: a full cylinder to the supply house, an evacuated one back."""

from typing import Any

from flask.views import MethodView

from service.api import examples
from service.api.auth import requires
from service.api.current import actor, services
from service.api.document import Blueprint
from service.api.idempotent import idempotent
from service.api.paging import answer, page_of, request_of
from service.api.quantities import masses
from service.api.schemas.life import ExchangeSchema, ExchangeSchemaIn, SerialArgs
from service.operations import exchanges
from service.operations.exchanges import NewExchange
from service.store.exchanges import Exchange

blueprint = Blueprint("exchanges", __name__, description="Exchanges at the supply house")


@blueprint.route("/exchanges")
class Exchanges(MethodView):
    """Every exchange."""

    @requires("reader")
    @blueprint.arguments(SerialArgs, location="query")
    @blueprint.response(200, page_of(ExchangeSchema))
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List exchanges, newest first."""
        request = request_of(args)
        page = exchanges.listed(services(), actor(), request, serial=args["cylinder"])
        return answer(page, encode_exchange)

    @requires("technician")
    @idempotent
    @blueprint.arguments(ExchangeSchemaIn, example=examples.EXCHANGE)
    @blueprint.response(201, ExchangeSchema)
    def post(self, body: dict[str, Any]) -> dict[str, Any]:
        """Hand a cylinder over against its receipt, and take an evacuated one in."""
        plain = {name: body[name] for name in ("technician", "certification_number", "note") if name in body}
        new = NewExchange(
            serial=body["cylinder"],
            counterparty=body["counterparty"],
            receipt=body["receipt"],
            gross_kg=body["gross_mass_kg"],
            destination=body["destination"],
            received=body.get("received"),
            occurred_at=body.get("at"),
            confirmed=body["confirmed"],
            **plain,
        )
        return encode_exchange(exchanges.record(services(), actor(), new))


def encode_exchange(exchange: Exchange) -> dict[str, Any]:
    """An exchange as JSON, in both units."""
    names = (
        "id", "cylinder", "received_cylinder", "counterparty", "receipt", "destination", "designation", "shares",
        "recorded_at", "recorded_by", "technician", "certification_number", "note",
    )  # fmt: skip
    return {
        **{name: getattr(exchange, name) for name in names},
        **masses("gross_mass", exchange.gross_kg),
        **masses("net_mass", exchange.net_kg),
        "at": exchange.occurred_at,
    }
