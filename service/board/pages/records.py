"""Recovered-refrigerant records of a period, as an inspector asks for them."""

from datetime import date

from flask import Response, render_template, request

from service.board import session
from service.board.blueprint import bp
from service.board.forms import Form
from service.cylinders.books import BOOKS
from service.operations import records
from service.operations.support import calendar
from service.operations.support.errors import OperationError
from service.paperwork.records import Records, totals
from service.paperwork.records_export import as_csv, as_json
from service.paperwork.records_gaps import gaps
from service.paperwork.records_pdf import as_pdf
from service.paperwork.units import Units

FORMATS = ("look", "pdf", "csv", "json")


@bp.get("/records")
@session.sign_in_first
def records_page() -> Response | str:
    """Ask for a period, or hand it out."""
    today = calendar.today_of(session.services(), session.actor())
    begin = today.replace(month=1, day=1).isoformat()
    form = Form({"from": begin, "to": today.isoformat(), "format": "look", **request.args})
    if "format" not in request.args:
        return render_template("records.html", form=form, year=today.year)
    first, last = _day(form, "from", "First day"), _day(form, "to", "Last day")
    kind = form.choice("format", "As", FORMATS)
    if not form.ok or first is None or last is None:
        return render_template("records.html", form=form, year=today.year)
    try:
        found = records.of_period(session.services(), session.actor(), first, last)
    except OperationError as error:
        form.refusals = session.refusals(error)
        return render_template("records.html", form=form, year=today.year)
    if kind == "look":
        seen = {"totals": totals(found.entries), "gaps": gaps(found.entries, found.law)}
        unread = BOOKS[found.law].missing.get("records")
        return render_template("records.html", form=form, year=today.year, found=found, unread=unread, **seen)
    response = _handed_out(found, kind)
    name = f"records-{first.isoformat()}-{last.isoformat()}.{kind}"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _handed_out(found: Records, kind: str) -> Response:
    if kind == "csv":
        return Response(as_csv(found), content_type="text/csv; charset=utf-8")
    if kind == "json":
        return Response(as_json(found), content_type="application/json")
    units: Units = "inch-pound" if session.show().inch_pound else "si"
    return Response(as_pdf(found, units=units), content_type="application/pdf")


def _day(form: Form, name: str, label: str) -> date | None:
    typed = form.text(name, label, longest=10)
    try:
        return date.fromisoformat(typed)
    except ValueError:
        form.errors.setdefault(name, f"{label}: {typed!r} is not a day such as 2026-05-04")
        return None
