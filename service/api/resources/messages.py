"""``/readings``: for gateways without MQTT; ``/messages``: where the worker fetches what they posted."""

from flask import request
from flask.views import MethodView
from werkzeug.exceptions import UnsupportedMediaType

from service.api.http import examples
from service.api.http.answers import Listed, page_of
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.json_types import JsonObject
from service.api.schemas.messages import (
    LetGo,
    LetGoSchema,
    ReadingsArgs,
    ReadingsQuery,
    Taken,
    TakenSchema,
    Waiting,
    WaitingArgs,
    WaitingMessageSchema,
    WaitingQuery,
)
from service.operations import messages
from service.operations.messages import NewMessage
from service.operations.support.errors import FieldError, Invalid

blueprint = Blueprint("readings", __name__, description="Readings of gateways without MQTT")
SENML = ("application/senml+json", "application/senml+cbor")
FOREIGN = (*SENML, "application/json", "application/cbor", "application/octet-stream", "text/plain")
BODY: JsonObject = {
    "required": True,
    "content": {
        "application/senml+json": {
            "schema": {"type": "array", "items": {"type": "object"}},
            "example": examples.SENML,
        },
        "application/senml+cbor": {"schema": {"type": "string", "format": "binary"}},
        "application/json": {"schema": {"description": "read by the mapping that the query names"}},
    },
}


@blueprint.route("/readings")
class Readings(MethodView):
    """Readings over HTTP."""

    @requires("gateway", "technician", within=("place",))
    @blueprint.doc(requestBody=BODY)
    @blueprint.arguments(ReadingsArgs, location="query")
    @blueprint.response(202, TakenSchema)
    def post(self, args: ReadingsQuery) -> Taken:
        """Take readings: SenML, or what the mapping named reads. They are stored before this answers.

        The worker reads them in the order in which they came, as if they had been published; a repeat counts once.
        """
        if request.mimetype not in FOREIGN:
            raise UnsupportedMediaType(f"{request.mimetype!r}, expected {', '.join(FOREIGN)}")
        if args.mapping is None and request.mimetype not in SENML:
            expected = f"the mapping that reads {request.mimetype}, or {' or '.join(SENML)}"
            raise Invalid(FieldError("mapping", None, expected))
        new = NewMessage(request.get_data(), args.place, args.device, args.mapping)
        return Taken(messages.take(services(), actor(), new))


@blueprint.route("/messages")
class Messages(MethodView):
    """What waits for the worker."""

    @requires("worker", "administrator")
    @blueprint.arguments(WaitingArgs, location="query")
    @blueprint.response(200, page_of(WaitingMessageSchema))
    def get(self, args: WaitingQuery) -> Listed[Waiting]:
        """List what came first; it stays until it is acknowledged."""
        places = [place for place in (args.places or "").split(",") if place]
        return Listed([Waiting(one) for one in messages.waiting(services(), actor(), places, args.limit)])


@blueprint.route("/message-acknowledgements")
class MessageAcknowledgements(MethodView):
    """What the worker has in its own file."""

    @requires("worker")
    @blueprint.arguments(LetGoSchema, example=examples.ACKNOWLEDGED)
    @blueprint.response(204)
    def post(self, body: LetGo) -> None:
        """Let go of messages that the worker has stored."""
        messages.let_go(services(), actor(), body.messages)
