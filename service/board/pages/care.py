"""What is done to a cylinder by hand: evacuated, requalified, looked over before filling."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.quantities import Quantities
from service.operations import care, cylinders
from service.operations.care import Details, Entry
from service.operations.support.errors import OperationError
from service.units import INCH_M, pa_from_micron
from service.verdict.reads_the_same import PROVENANCES

CENTIMETER_M = 0.01
KINDS = ("inspection", "evacuation", "requalification", "observation")
GAS = {"found": True, "none": False}
UNSAID = "unsaid"
OUTCOMES = {"passed": True, "failed": False}


@bp.route("/cylinders/<serial>/care", methods=["GET", "POST"])
@session.sign_in_first
def care_page(serial: str) -> Response | str:
    """Record one of them."""
    services, actor = session.services(), session.actor()
    cylinders.read(services, actor, serial)
    form = Form(request.form)
    if request.method == "POST" and (entry := care_of(form, session.show(), serial)) is not None:
        try:
            care.record(services, actor, entry)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done(f"The {entry.kind} is recorded.")
            return redirect(url_for("board.cylinder", serial=serial))
    return render_template("care.html", form=form, serial=serial)


def care_of(form: Form, show: Quantities, serial: str) -> Entry | None:
    """Read what was done; None with the form's errors."""
    kind = form.choice("kind", "What was done", KINDS)
    passed, details = _READERS[kind](form, show) if form.ok else (None, Details())
    return Entry(serial, kind, passed, details) if form.ok else None


def _inspection(form: Form, _show: Quantities) -> tuple[bool | None, Details]:
    outcome = form.choice("outcome", "How it looks", tuple(OUTCOMES))
    findings = form.text("findings", "What was found", required=outcome == "failed", longest=400)
    return OUTCOMES.get(outcome), {"findings": [findings]} if findings else {}


def _evacuation(form: Form, _show: Quantities) -> tuple[bool | None, Details]:
    microns = form.number("microns", "Vacuum reached", required=False, above=0.0, at_most=1e6)
    return True, {} if microns is None else {"vacuum_pa": pa_from_micron(microns)}


def _requalification(form: Form, _show: Quantities) -> tuple[bool | None, Details]:
    outcome = form.choice("test", "The test", tuple(OUTCOMES))
    stamp = form.text("stamp", "New stamp", required=outcome == "passed", longest=64)
    return OUTCOMES.get(outcome), {"stamp": stamp} if stamp else {}


def _observation(form: Form, show: Quantities) -> tuple[bool | None, Details]:
    gas = form.choice("gas", "Combustible-gas detector", (UNSAID, *GAS))
    vouched = form.choice("provenance", "Where it comes from", (UNSAID, *PROVENANCES))
    unit = INCH_M if show.inch_pound else CENTIMETER_M
    level = form.number("level", "Liquid line", required=False, above=0.0, at_most=3.0 / unit)
    seen = Details()
    if gas in GAS:
        seen["combustible_gas_found"] = GAS[gas]
    if vouched in PROVENANCES:
        seen["provenance"] = vouched
    if level is not None:
        seen["liquid_level_height_m"] = level * unit
    return None, seen


_READERS = {
    "inspection": _inspection,
    "evacuation": _evacuation,
    "requalification": _requalification,
    "observation": _observation,
}
