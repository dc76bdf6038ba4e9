"""A full cylinder handed in against an evacuated one."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.readings import mass_kg
from service.codes import Destination
from service.operations import exchanges, overview
from service.operations.exchanges import NewExchange
from service.operations.support.errors import OperationError

DESTINATIONS: tuple[str, ...] = tuple(Destination)


@bp.route("/cylinders/<serial>/exchange", methods=["GET", "POST"])
@session.sign_in_first
def exchange(serial: str) -> Response | str:
    """Record where it went, against which receipt, and what came back."""
    services, actor, show = session.services(), session.actor(), session.show()
    found = overview.one(services, actor, serial)
    form = Form(
        request.form if request.method == "POST" else {"destination": exchanges.route(found.judgement)}
    )
    if request.method == "POST":
        counterparty, receipt = (
            form.text("counterparty", "Supply house"),
            form.text("receipt", "Receipt number"),
        )
        gross_kg = mass_kg(form, show, "Weight on their scale", required=True)
        destination = form.choice("destination", "What becomes of it", DESTINATIONS)
        received = form.text("received", "Serial of the cylinder that came back", required=False, longest=64)
        if form.ok:
            person = session.person()
            new = NewExchange(
                serial=serial,
                counterparty=counterparty,
                receipt=receipt,
                gross_kg=gross_kg or 0.0,
                destination=destination,
                received={"serial": received, "place": found.row.place} if received else None,
                technician=person.name if person else None,
                certification_number=person.certification_number if person else None,
                confirmed=bool(form.values.get("confirmed")),
            )
            try:
                exchanges.record(services, actor, new)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"{serial} is handed over.")
                return redirect(url_for("board.cylinder", serial=received or serial))
    return render_template("exchange.html", form=form, serial=serial)
