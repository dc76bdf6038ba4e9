"""What cylinders turned out to hold, and how right the verdicts before it were."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.views.scores import KINDS
from service.board.views.scores import scores as view
from service.operations import analyses, cylinders, organisation, scores
from service.operations.analyses import STATES, NewAnalysis
from service.operations.support.errors import OperationError

UNSAID = "unsaid"


@bp.get("/scores")
@session.sign_in_first
def scores_page() -> str:
    """Show how right it has been here."""
    found = scores.read(session.services(), session.actor())
    return render_template("scores.html", page=view(found))


@bp.route("/cylinders/<serial>/result", methods=["GET", "POST"])
@session.sign_in_first
def result_page(serial: str) -> Response | str:
    """Record what it turned out to hold."""
    services, actor = session.services(), session.actor()
    cylinders.read(services, actor, serial)
    form = Form(request.form if request.method == "POST" else {"kind": "laboratory", "contamination": UNSAID})
    if request.method == "POST":
        new = _new(form, serial)
        if form.ok:
            try:
                analyses.record(services, actor, new)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done("The result is recorded.")
                return redirect(url_for("board.cylinder", serial=serial))
    return render_template("result.html", form=form, serial=serial, kinds=list(KINDS.items()))


def _new(form: Form, serial: str) -> NewAnalysis:
    kind = form.choice("kind", "How it turned out", tuple(KINDS))
    state = form.choice("contamination", "What was with it", (UNSAID, *STATES))
    designation = form.text("designation", "Refrigerant", required=False, longest=60)
    others = form.number("others", "Other refrigerants", required=False, above=-0.001, at_most=100.0)
    air = form.number("air", "Air and other non-condensables", required=False, above=-0.001, at_most=100.0)
    moisture = form.number("moisture", "Moisture", required=False, above=-0.001, at_most=1e6)
    laboratory = form.text("laboratory", "Who found it", required=False, longest=200)
    number = form.text("number", "Number of the report", required=False, longest=80)
    sampled_at = _sampled_at(form)
    return NewAnalysis(
        serial=serial,
        kind=kind,
        designation=designation or None,
        contamination=None if state == UNSAID else state,
        other_refrigerants_percent=others,
        non_condensables_percent=air,
        moisture_ppm=moisture,
        laboratory=laboratory or None,
        number=number or None,
        sampled_at=sampled_at,
    )


def _sampled_at(form: Form) -> datetime | None:
    """The beginning of the day that was typed: a sample must not vouch for what was read or filled later that day."""
    typed = form.text("sampled_on", "Sampled on", required=False, longest=10)
    if not typed:
        return None
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        form.errors["sampled_on"] = f"Sampled on: {typed!r} is not a day such as 2026-05-04"
        return None
    zone = ZoneInfo(organisation.read(session.services(), session.actor()).time_zone)
    return datetime.combine(day, time.min, zone)
