"""Filling by hand on a live scale: check, fill to this gross weight, done. The scale says every weight."""

from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.recovery_form import mass
from service.board.pages.transfers import PHASES
from service.board.views import filling as views
from service.operations import drafts, overview, recovery_plan, transfers
from service.operations.recoveries import NewRecovery
from service.operations.recovery_plan import Looked
from service.operations.support import inflows
from service.operations.support.errors import OperationError
from service.operations.support.judgements import Judged
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer

STEPS = ("check", "done", "as-it-is", "again")


@bp.get("/cylinders/<serial>/fill")
@session.sign_in_first
def fill_page(serial: str) -> str:
    """Show the step that this fill is at: the service remembers it, a dead phone does not matter."""
    services, actor, show = session.services(), session.actor(), session.show()
    found = overview.one(services, actor, serial)
    kept = drafts.read(services, actor, _draft(found))
    usual = {"designation": found.judgement.name.bare or "", "phase": "liquid"}
    form = Form({**usual, **kept}, dict(kept.get("errors") or {}), list(kept.get("refusals") or []))
    gross, _ = inflows.scale(found.attached, services.now())
    looked = view = None
    if (before := kept.get("before_kg")) is not None:
        looked = _looked(form, found, before)
        if looked is not None and looked.target_gross_kg is not None:
            attention = found.judgement.attention
            view = views.filling(gross, before, looked.target_gross_kg, form.values["phase"], attention, show)
    return render_template(
        "fill.html", form=form, serial=found.row.serial, filling=view, sentence=session.sentence,
        reasons=looked.reasons if looked is not None else (), phase=form.values["phase"],
        now=None if gross is None else show.mass(gross), begun=before is not None, refused=bool(kept.get("refusals")),
        apart=views.apart(found.row.gross_mass_kg, before, show) if before is not None else "",
        designations=services.catalogue.designations, subjects=[f"cylinders/{found.row.serial}", "beat"],
    )  # fmt: skip


@bp.post("/cylinders/<serial>/fill")
@session.sign_in_first
def fill(serial: str) -> Response:
    """Take one step; the answer is always a page that may be loaded again."""
    services, actor = session.services(), session.actor()
    found = overview.one(services, actor, serial)
    form, name = Form(dict(request.form)), _draft(found)
    step, kept = form.choice("step", "Step", STEPS), drafts.read(services, actor, name)
    if step == "again":
        drafts.drop(services, actor, name)
    elif step == "check":
        drafts.keep(services, actor, name, _checked(form, found, kept))
    elif step in STEPS and kept.get("before_kg") is not None:
        if _recorded(form, found, kept, as_it_is=step == "as-it-is"):
            drafts.drop(services, actor, name)
            done("The fill is recorded, with the weight after it.")
            return redirect(url_for("board.cylinder", serial=found.row.serial), 303)
        drafts.keep(
            services, actor, name, {**kept, "gross": form.values.get("gross", ""), **_complaints(form)}
        )
    return redirect(url_for("board.fill_page", serial=found.row.serial), 303)


def _draft(found: Judged) -> str:
    return f"fill/{found.row.id}"


def _complaints(form: Form) -> dict[str, Any]:
    return {"errors": form.errors, "refusals": form.refusals}


def _checked(form: Form, found: Judged, kept: dict[str, Any]) -> dict[str, Any]:
    """Keep what goes in and what the scale shows before it; a weight before that is kept stays."""
    services, show = session.services(), session.show()
    form.text("designation", "Refrigerant going in", longest=40)
    form.choice("phase", "Through which valve", PHASES)
    before = kept.get("before_kg")
    if before is None:
        before = mass(form, show, "gross_before", "Weight now")
    if before is None:
        before, _ = inflows.scale(found.attached, services.now())
    if before is None and form.ok:
        form.errors["gross_before"] = "Weight now: no scale is heard under it, so type what one shows"
    typed = {name: form.values.get(name, "") for name in ("designation", "phase", "gross_before")}
    return {**typed, **_complaints(form), "before_kg": before if form.ok else None}


def _looked(form: Form, found: Judged, before_kg: float) -> Looked | None:
    asked = NewRecovery(
        form.values["designation"],
        [found.row.serial],
        {},
        method=form.values["phase"],
        gross_before_kg=before_kg,
    )
    try:
        (looked,) = recovery_plan.rehearse(session.services(), session.actor(), asked).looked
    except OperationError as error:
        form.refusals += session.refusals(error)
        return None
    return looked


def _recorded(form: Form, found: Judged, kept: dict[str, Any], *, as_it_is: bool) -> bool:
    """Record what went in, by the scale or as typed; False with the form's complaints."""
    gross = mass(form, session.show(), "gross", "Weight now")
    if not form.ok:
        return False
    person = session.person()
    new = NewTransfer(
        found.row.serial, "in", Weighing(None, kept["before_kg"], gross, from_live=gross is None),
        refrigerant=kept["designation"], phase=kept["phase"], technician=person.name if person else None,
        certification_number=person.certification_number if person else None, has_happened=as_it_is,
    )  # fmt: skip
    try:
        transfers.record(session.services(), session.actor(), new)
    except OperationError as error:
        form.refusals = session.refusals(error)
        return False
    return True
