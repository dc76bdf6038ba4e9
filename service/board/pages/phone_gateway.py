"""A phone as gateway: its browser reads Bluetooth sensors, and what they read is taken as of any gateway."""

from flask import jsonify, render_template, request
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp
from service.board.forms import Form
from service.operations import messages, places
from service.operations.messages import NewMessage
from service.operations.support.errors import NotFound, OperationError, Unavailable
from service.store.paging import LARGEST_PAGE, PageRequest

LONGEST_PACK = 100_000
"""Of one message [characters]: five seconds of many sensors are a hundredth of it."""


@bp.get("/phone-gateway")
@session.sign_in_first
def phone_gateway_page() -> str:
    """Show the sensors of this phone; its script knows them, the service does not."""
    known = places.listed(session.services(), session.actor(), PageRequest(LARGEST_PAGE)).items
    return render_template(
        "phone_gateway.html", places=[place.name for place in known], inch_pound=session.show().inch_pound
    )


@bp.post("/phone-gateway/readings")
@session.sign_in_first
def take_readings() -> tuple[Response, int]:
    """Keep one SenML pack for the worker: 202 when it is stored, 409 with the reasons when it is refused."""
    form = Form(request.form)
    place = form.text("place", "Place", longest=80)
    pack = form.text("pack", "Readings", longest=LONGEST_PACK)
    if form.ok:
        try:
            messages.take(session.services(), session.actor(), NewMessage(pack.encode(), place))
        except Unavailable:
            raise
        except NotFound:
            form.refusals = [f"There is no place {place!r}; choose one that there is."]
        except OperationError as error:
            form.refusals = session.refusals(error)
    if not form.ok:
        return jsonify(reasons=list(map(session.say, (*form.errors.values(), *form.refusals)))), 409
    return jsonify(taken=True), 202
