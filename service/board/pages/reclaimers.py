"""Reclaimers with what an inspector asks of them, and what they accepted."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.readings import mass_kg
from service.operations import reclaimers
from service.operations.reclaimers import NewAcceptance
from service.operations.support.errors import OperationError


@bp.route("/reclaimers", methods=["GET", "POST"])
@session.sign_in_first
def reclaimers_page() -> Response | str:
    """See the reclaimers, add or correct one, and see what they have not answered for."""
    services, actor = session.services(), session.actor()
    form = Form(request.form if request.method == "POST" else request.args)
    if request.method == "POST":
        name = form.text("name", "Name", longest=200)
        address = form.text("address", "Address", longest=300)
        number = form.text("certification", "Certification number", required=False, longest=80)
        if form.ok:
            reclaimers.put(services, actor, name, address=address, certification_number=number or None)
            done(f"{name} is kept.")
            return redirect(url_for("board.reclaimers_page"))
    return render_template(
        "reclaimers.html",
        form=form,
        reclaimers=reclaimers.listed(services, actor),
        awaiting=reclaimers.awaiting(services, actor),
    )


@bp.route("/exchanges/<int:exchange_id>/acceptance", methods=["GET", "POST"])
@session.sign_in_first
def acceptance(exchange_id: int) -> Response | str:
    """Record what a reclaimer accepted of what was sent."""
    services, actor = session.services(), session.actor()
    sent = reclaimers.sent(services, actor, exchange_id)
    form = Form(request.form)
    if request.method == "POST":
        net_kg = mass_kg(form, session.show(), "Net weight that they accepted", required=True)
        lot = form.text("lot", "Lot", required=False, longest=80)
        if net_kg is not None and form.ok:
            try:
                reclaimers.accept(services, actor, exchange_id, NewAcceptance(net_kg, lot or None))
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"What {sent.counterparty} accepted of {sent.cylinder} is recorded.")
                return redirect(url_for("board.reclaimers_page"))
    return render_template("acceptance.html", form=form, sent=sent)
