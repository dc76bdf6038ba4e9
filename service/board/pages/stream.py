"""The live stream: which subjects changed; the page's script then fetches what it shows of them."""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from flask import Response, current_app, json, request, stream_with_context

from service.board import session
from service.board.blueprint import bp
from service.operations.stream import Beat, Item, Tail, as_long_as, follow
from service.operations.support.context import Actor, Services
from service.operations.support.events import RECOVERY_CHANGED
from service.store.live import Live

RETRY_AFTER_S = 15
LONGEST_GAP = timedelta(minutes=2)


@bp.get("/stream")
@session.sign_in_first
def stream() -> Response:
    """Follow the event table from where this page left off."""
    if request.method == "HEAD":
        return Response(content_type="text/event-stream")
    services, actor = session.services(), session.actor()
    # One tail a process, shared with the interface for machines.
    tail: Tail = current_app.extensions.setdefault("heelmark-tail", Tail(services))
    settings = session.settings()
    if not tail.join(actor, settings.stream_cap, settings.stream_share):
        return Response("All streams are taken.", status=503, headers={"Retry-After": str(RETRY_AFTER_S)})
    over = as_long_as(session.still_signed_in(), settings.stream_seconds)
    lines = stream_with_context(_lines(services, tail, actor, _left_off(), over))
    response = Response(lines, content_type="text/event-stream")
    response.headers.update({"Cache-Control": "no-store", "X-Accel-Buffering": "no"})
    # Not a finally of the generator: one that was never begun is closed without running it.
    response.call_on_close(lambda: tail.leave(actor))
    return response


def _lines(
    services: Services,
    tail: Tail,
    actor: Actor,
    left_off: tuple[int, datetime | None],
    over: Callable[[], bool],
) -> Iterator[str]:
    last_id, drawn_at = left_off
    yield ": open\n\n"
    for item in follow(services, tail, actor, last_id, until=over, live_since=drawn_at):
        yield message(item)


def _left_off() -> tuple[int, datetime | None]:
    """Give the last event that the page knew, and when it was drawn: what came between is told at once."""
    told = request.headers.get("Last-Event-ID") or request.args.get("since", "")
    last_id = int(told) if told.isascii() and told.isdigit() and len(told) < 19 else 0
    try:
        drawn_at = datetime.fromisoformat(request.args.get("drawn", ""))
    except ValueError:
        return last_id, None
    now = session.services().now()
    recent = drawn_at.tzinfo is not None and now - LONGEST_GAP <= drawn_at <= now
    return last_id, drawn_at if recent else None


def message(item: Item) -> str:
    """Write one message; live values carry no id, because a replay never brings them again."""
    if isinstance(item, Beat):
        return ": beat\n\n"
    if isinstance(item, Live):
        return f"event: changed\ndata: {json.dumps({'subjects': [f'cylinders/{item.cylinder}']})}\n\n"
    subjects = {item.subject, *(["alarms"] if item.type.startswith("heelmark.alarm.") else [])}
    if item.type == RECOVERY_CHANGED:
        subjects.add("recoveries")
    if item.data.get("cylinder"):
        subjects.add(f"cylinders/{item.data['cylinder']}")
    return f"id: {item.id}\nevent: changed\ndata: {json.dumps({'subjects': sorted(subjects)})}\n\n"
