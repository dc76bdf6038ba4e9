"""The assistant: from a message that nobody can read to a mapping that reads it."""

from collections.abc import Mapping

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.views.assistant import assistant_page as view
from service.mappings.choices import Choices, Chosen, document_of, proposed, repeated
from service.mappings.proposing import MOST_LEAVES
from service.mappings.trial import Trial
from service.operations import devices, mappings, not_understood, places
from service.operations.support.errors import NotAllowed, OperationError
from service.store.not_understood import NotUnderstood
from service.store.paging import LARGEST_PAGE, PageRequest

MAY_SAVE = ("supervisor", "administrator")
SAVE, OFFER = "save", "offer"


@bp.route("/devices/unread/<int:number>", methods=["GET", "POST"])
@session.sign_in_first
def assistant_page(number: int) -> Response | str:
    """Choose which number of a message is the pressure, see what it is read as, and keep that."""
    services, actor = session.services(), session.actor()
    one = not_understood.read(services, actor, number)
    known = [place.name for place in places.listed(services, actor, PageRequest(LARGEST_PAGE)).items]
    topic, now_s = one.topic or one.source, one.last_seen_at.timestamp()
    form = Form(request.form if request.method == "POST" else {})
    choices = _chosen(form.values) if form.values else proposed(topic, one.message, known, now_s)
    offers = mappings.offers(topic, one.message, now_s) if one.message is not None else []
    trial = _tried(form, choices, one)
    wish = form.values.get("step", "")
    if wish in (SAVE, OFFER) and (wish == OFFER or form.ok):
        if not session.may(*MAY_SAVE):
            raise NotAllowed("Only a supervisor keeps a mapping.")
        offered = {shipped.document["name"]: shipped.document for shipped, _ in offers}
        document = (
            offered.get(form.values.get("offer", ""))
            if wish == OFFER
            else document_of(choices, topic, one.message)
        )
        try:
            if document is not None:
                mappings.save(services, actor, document)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done("Kept. The worker reads these messages from now on, and those of the last day.")
            return redirect(url_for("board.devices_page"))
    others = devices.listed(services, actor, PageRequest(LARGEST_PAGE), attached=None).items
    return render_template(
        "assistant.html",
        form=form,
        page=view(one, choices, trial, offers, others, known, session.show()),
        number=number,
        may_save=session.may(*MAY_SAVE),
    )


def _tried(form: Form, choices: Choices, one: NotUnderstood) -> Trial:
    topic, now_s = one.topic or one.source, one.last_seen_at.timestamp()
    if not any(value.quantity for value in choices.values):
        return Trial((), ())
    for quantity in repeated(choices):
        form.refusals.append(
            f"Two numbers are said to be the {quantity.replace('-', ' ')}; a device has one."
        )
    try:
        return mappings.trial(document_of(choices, topic, one.message), topic, one.message, now_s)
    except OperationError as error:
        if form.values:
            form.refusals += session.refusals(error)
        return Trial((), ())


def _chosen(values: Mapping[str, str]) -> Choices:
    """What was chosen on the page."""
    roles = {n: role for n in range(40) if (role := values.get(f"level-{n}", ""))}
    numbers = range(MOST_LEAVES)
    picked = [
        Chosen(values[f"path-{n}"][:400], values.get(f"quantity-{n}", ""), values.get(f"unit-{n}", ""))
        for n in numbers
        if values.get(f"path-{n}")
    ]
    return Choices(
        name=values.get("name", "").strip(),
        roles=roles,
        device=values.get("device", ""),
        place=values.get("place", ""),
        time=values.get("time", "arrival"),
        values=tuple(picked),
    )
