"""``/events``: server-sent events, replayed after ``Last-Event-ID``; ``/event-log``: the same as pages."""

import json
from collections.abc import Iterator
from dataclasses import asdict

import marshmallow as ma
from flask import Response, current_app, request
from flask.views import MethodView

from service.api.http.answers import Answer, Listed
from service.api.http.auth import requires
from service.api.http.current import actor, services, settings
from service.api.http.document import Blueprint
from service.api.http.fields import Instant, Text, Whole
from service.api.http.paging import PageArgs, Paged
from service.api.http.problems import problem
from service.api.http.rate_limits import bearer_secret
from service.api.schemas.live import LiveValuesSchema
from service.operations import tokens
from service.operations.stream import Beat, Item, Tail, as_long_as, follow
from service.operations.support import events
from service.operations.support.context import Actor
from service.store.events import Event
from service.store.live import Live

blueprint = Blueprint("events", __name__, description="What happened, as it happens")

RETRY_AFTER_S = 15
TAIL = "heelmark-tail"
LIVE = LiveValuesSchema()


class EventSchema(Answer):
    """Something that happened."""

    of = Event

    id = Whole(required=True)
    at = Instant(required=True)
    type = Text(required=True)
    subject = Text(required=True)
    actor = Text(required=True)
    data = ma.fields.Dict(required=True)


class EventPageSchema(Answer):
    """Events, oldest first."""

    of = Listed

    items = ma.fields.List(ma.fields.Nested(EventSchema), required=True)
    next = Text(required=True, allow_none=True)


@blueprint.route("/events")
class Events(MethodView):
    """The stream."""

    @requires("reader", "events", within=())
    @blueprint.response(200, {"type": "string"}, content_type="text/event-stream")
    def get(self) -> Response:
        """Follow events; `Last-Event-ID` (or none) says where to begin."""
        if request.method == "HEAD":
            return Response(content_type="text/event-stream")
        who, tail, last_id = actor(), process_tail(), last_event_id()
        if not tail.join(who, settings().stream_cap, settings().stream_share):
            return no_stream(tail, who)
        if last_id is None:
            last_id = events.newest_id(services(), who)
        return stream_response(tail, who, last_id)


@blueprint.route("/event-log")
class EventLog(MethodView):
    """The same, for who can not keep a stream open."""

    @requires("reader", "events", within=())
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, EventPageSchema)
    def get(self, args: Paged) -> Listed[Event]:
        """List events after an id, oldest first."""
        after, limit = args.after or 0, args.limit
        items = events.follow(services(), actor(), after, limit=limit + 1)
        more = len(items) > limit
        return Listed(items[:limit], str(items[limit - 1].id) if more else None)


def process_tail() -> Tail:
    """The tail of this process, made on first use."""
    tail: Tail = current_app.extensions.setdefault(TAIL, Tail(services()))
    return tail


def no_stream(tail: Tail, who: Actor) -> Response:
    """The refusal of a stream: of one caller too many, or of all."""
    retry = [("Retry-After", str(RETRY_AFTER_S))]
    if tail.held_by(who) >= settings().stream_share:
        told = f"You have {tail.held_by(who)} event streams open, which is all that one caller may have."
        return problem(429, told, slug="too-many-streams", headers=retry)
    return problem(503, "All event streams of this process are taken.", slug="streams-full", headers=retry)


def last_event_id() -> int | None:
    """Where the client left off, if it says so in a way that can be read."""
    told = request.headers.get("Last-Event-ID", request.args.get("last_event_id", ""))
    return int(told) if told.isascii() and told.isdigit() and len(told) < 19 else None


def stream_response(tail: Tail, who: Actor, last_id: int) -> Response:
    """The open stream, on a place taken already; it gives the place back however it ends."""
    wired, secret = services(), bearer_secret()
    over = as_long_as(lambda: tokens.actor_of(wired, secret) is not None, settings().stream_seconds)

    def lines() -> Iterator[str]:
        yield "retry: 2000\n\n"
        for item in follow(wired, tail, who, last_id, until=over):
            yield as_message(item)

    response = Response(lines(), content_type="text/event-stream")
    response.headers.update({"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
    # Not a finally of the generator: one that was never begun is closed without running it.
    response.call_on_close(lambda: tail.leave(who))
    return response


def as_message(item: Item) -> str:
    """One message of the stream; live values carry no id, so that a replay never counts them."""
    if isinstance(item, Beat):
        return ": beat\n\n"
    if isinstance(item, Live):
        values = {**LIVE.dump(item), "at": item.at.isoformat()}
        return f"event: live\ndata: {json.dumps(values)}\n\n"
    data = {**asdict(item), "at": item.at.isoformat()}
    del data["organisation_id"]
    return f"id: {item.id}\nevent: {item.type}\ndata: {json.dumps(data)}\n\n"
