"""Setting a cylinder aside and releasing it."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.operations import holds, overview, releases
from service.operations.support.errors import NotAllowed, OperationError
from service.operations.support.judgements import Judged

MAY_RELEASE = ("supervisor", "administrator")


@bp.route("/cylinders/<serial>/hold", methods=["GET", "POST"])
@session.sign_in_first
def hold(serial: str) -> Response | str:
    """Set it aside; or see why it is."""
    services, actor = session.services(), session.actor()
    racked = overview.one(services, actor, serial)
    form = Form(request.form)
    if request.method == "POST":
        reason = form.text("reason", "Why", longest=400)
        if form.ok:
            holds.place(services, actor, serial, reason)
            done("It is on hold: nothing in or out.")
            return redirect(url_for("board.cylinder", serial=serial))
    return _page(serial, racked, form)


@bp.post("/cylinders/<serial>/holds/<int:hold_id>/release")
@session.sign_in_first
def release_hold(serial: str, hold_id: int) -> Response | str:
    """Lift a hold, with the reason."""
    services, actor = session.services(), session.actor()
    if not session.may(*MAY_RELEASE):
        raise NotAllowed("Only a supervisor releases a hold.")
    form = Form(request.form)
    reason = form.text("release_reason", "Why it may be used again", longest=400)
    if form.ok:
        try:
            holds.release(services, actor, hold_id, reason)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done("The hold is released.")
            return redirect(url_for("board.cylinder", serial=serial))
    return _page(serial, overview.one(services, actor, serial), form)


@bp.post("/cylinders/<serial>/advice/release")
@session.sign_in_first
def release_advice(serial: str) -> Response | str:
    """Release the advice that the cylinder stands under, with the reason."""
    services, actor = session.services(), session.actor()
    if not session.may(*MAY_RELEASE):
        raise NotAllowed("Only a supervisor can release an advice.")
    form = Form(request.form)
    reason = form.text("advice_reason", "Why it may be used", longest=400)
    if form.ok:
        try:
            releases.release_advice(services, actor, serial, reason)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done("The advice is released for these contents.")
            return redirect(url_for("board.cylinder", serial=serial))
    return _page(serial, overview.one(services, actor, serial), form)


def _page(serial: str, found: Judged, form: Form) -> str:
    may_release = session.may(*MAY_RELEASE)
    advice = found.judgement.advice
    return render_template(
        "hold.html",
        form=form,
        serial=serial,
        holds=found.known.holds,
        advice=advice if advice.release_code and advice.forbids else None,
        may_release=may_release,
    )
