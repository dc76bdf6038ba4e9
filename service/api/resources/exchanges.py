"""``/exchanges``: a full cylinder to the supply house, an evacuated one back."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.http.paging import OfCylinder
from service.api.schemas.life import ExchangeBody, ExchangeSchema, ExchangeSchemaIn, SerialArgs
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
    def get(self, args: OfCylinder) -> Listed[Exchange]:
        """List exchanges, newest first."""
        return rows(exchanges.listed(services(), actor(), args.page, serial=args.cylinder))

    @requires("technician")
    @idempotent
    @blueprint.arguments(ExchangeSchemaIn, example=examples.EXCHANGE)
    @blueprint.response(201, ExchangeSchema)
    def post(self, body: ExchangeBody) -> Exchange:
        """Hand a cylinder over against its receipt, and take an evacuated one in."""
        new = NewExchange(
            serial=body.cylinder,
            counterparty=body.counterparty,
            receipt=body.receipt,
            gross_kg=body.gross_mass_kg,
            destination=body.destination,
            received=body.received,
            occurred_at=body.at,
            technician=body.technician,
            certification_number=body.certification_number,
            note=body.note,
            confirmed=body.confirmed,
        )
        return exchanges.record(services(), actor(), new)
