"""Who holds a cylinder outside the shop, and since when."""

from datetime import date

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.operations import custody
from service.operations.support import calendar
from service.operations.support.errors import OperationError
from service.store.paging import LARGEST_PAGE, PageRequest


@bp.route("/custody", methods=["GET", "POST"])
@session.sign_in_first
def custody_page() -> Response | str:
    """See who holds what, and give a cylinder into somebody's hands."""
    services, actor = session.services(), session.actor()
    form = Form(request.form if request.method == "POST" else request.args)
    if request.method == "POST":
        serial = form.text("serial", "Serial", longest=64)
        holder, due_on = form.text("holder", "Who takes it", longest=80), _due(form)
        if form.ok:
            try:
                custody.hand_out(services, actor, serial, holder=holder, due_on=due_on)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"{serial} is with {holder}.")
                return redirect(url_for("board.custody_page"))
    held = custody.listed(services, actor, PageRequest(LARGEST_PAGE), out_only=True).items
    today = calendar.today_of(services, actor)
    late = {one.id for one in held if custody.overdue(one, today)}
    return render_template("custody.html", form=form, held=held, late=late)


@bp.post("/custody/<int:custody_id>/back")
@session.sign_in_first
def custody_back(custody_id: int) -> Response:
    """Take a cylinder back."""
    entry = custody.bring_back(session.services(), session.actor(), custody_id)
    done(f"{entry.cylinder} is back.")
    return redirect(url_for("board.custody_page"))


def _due(form: Form) -> date | None:
    typed = form.text("due_on", "Due back", required=False, longest=10)
    if not typed:
        return None
    try:
        return date.fromisoformat(typed)
    except ValueError:
        form.errors["due_on"] = f"Due back: {typed!r} is not a day such as 2026-05-04"
        return None
