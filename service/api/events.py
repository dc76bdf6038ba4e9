"""``/events``: server-sent events, replayed after ``Last-Event-ID``; ``/event-log``: the same as pages."""

import json
import time
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

import marshmallow as ma
from flask import Response, current_app, request
from flask.views import MethodView

from service.api.auth import requires
from service.api.current import actor, services, settings
from service.api.document import Blueprint
from service.api.fields import Instant, Text, Whole
from service.api.live_json import encode_live
from service.api.paging import PageArgs
from service.api.problems import problem
from service.operations import events
from service.operations.context import Actor
from service.operations.stream import Beat, Item, Tail, follow
from service.store.live import Live

blueprint = Blueprint("events", __name__, description="What happened, as it happens")

RETRY_AFTER_S = 15
TAIL = "heelmark-tail"


class EventSchema(ma.Schema):
    """Something that happened."""

    id = Whole(required=True)
    at = Instant(required=True)
    type = Text(required=True)
    subject = Text(required=True)
    actor = Text(required=True)
    data = ma.fields.Dict(required=True)


class EventPageSchema(ma.Schema):
    """Events, oldest first."""

    items = ma.fields.List(ma.fields.Nested(EventSchema), required=True)
    next = Text(required=True, allow_none=True)


@blueprint.route("/events")
class Events(MethodView):
    """The stream."""

    @requires("reader")
    @blueprint.response(200, {"type": "string"}, content_type="text/event-stream")
    def get(self) -> Response:
        """Follow events; `Last-Event-ID` (or none) says where to begin."""
        who, tail = actor(), process_tail()
        last_id = last_event_id()
        if not tail.join(settings().stream_cap):
            retry = [("Retry-After", str(RETRY_AFTER_S))]
            return problem(
                503, "All event streams of this process are taken.", slug="streams-full", headers=retry
            )
        if last_id is None:
            last_id = events.newest_id(services(), who)
        return stream_response(tail, who, last_id)


@blueprint.route("/event-log")
class EventLog(MethodView):
    """The same, for who can not keep a stream open."""

    @requires("reader")
    @blueprint.arguments(PageArgs, location="query")
    @blueprint.response(200, EventPageSchema)
    def get(self, args: dict[str, Any]) -> dict[str, Any]:
        """List events after an id, oldest first."""
        after, limit = args["after"] or 0, args["limit"]
        items = events.follow(services(), actor(), after, limit=limit + 1)
        more = len(items) > limit
        return {"items": items[:limit], "next": str(items[limit - 1].id) if more else None}


def process_tail() -> Tail:
    """The tail of this process, made on first use."""
    tail: Tail = current_app.extensions.setdefault(TAIL, Tail(services()))
    return tail


def last_event_id() -> int | None:
    """Where the client left off, if it says so in a way that can be read."""
    told = request.headers.get("Last-Event-ID", request.args.get("last_event_id", ""))
    return int(told) if told.isascii() and told.isdigit() and len(told) < 19 else None


def stream_response(tail: Tail, who: Actor, last_id: int) -> Response:
    """The open stream, on a place taken already; it gives the place back however it ends."""
    wired, ends_at = services(), time.monotonic() + settings().stream_seconds

    def lines() -> Iterator[str]:
        yield "retry: 2000\n\n"
        for item in follow(wired, tail, who, last_id, until=lambda: time.monotonic() > ends_at):
            yield as_message(item)

    response = Response(lines(), content_type="text/event-stream")
    response.headers.update({"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
    # Not a finally of the generator: one that was never begun is closed without running it.
    response.call_on_close(tail.leave)
    return response


def as_message(item: Item) -> str:
    """One message of the stream; live values carry no id, so that a replay never counts them."""
    if isinstance(item, Beat):
        return ": beat\n\n"
    if isinstance(item, Live):
        values = encode_live(item)
        return f"event: live\ndata: {json.dumps({**values, 'at': item.at.isoformat()})}\n\n"
    data = {**asdict(item), "at": item.at.isoformat()}
    del data["organisation_id"]
    return f"id: {item.id}\nevent: {item.type}\ndata: {json.dumps(data)}\n\n"
