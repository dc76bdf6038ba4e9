"""Refrigerant in and out: the check is shown before the button."""

from dataclasses import dataclass
from functools import partial
from typing import get_args
from urllib.parse import urlencode

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.readings import mass_kg
from service.board.quantities import Quantities
from service.board.views.cards import contamination_of, fill_text, headline
from service.board.views.last_known import last_known
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.permits import Act
from service.cylinders.valves import Phase
from service.operations import overview, transfers
from service.operations.support.errors import Conflict, OperationError
from service.operations.support.weights import Weighing
from service.operations.transfer_entry import NewTransfer
from service.operations.transfers import MAY_OVERRIDE, Done
from service.store.equipment import Equipment

UNASKED = ("csrf", "entry", "override_reason")
PHASES = tuple(reversed(get_args(Phase)))


@dataclass(frozen=True, slots=True)
class Checked:
    """What the check says: allowed or the broken rules, what has to be said, whether a supervisor may decide."""

    allowed: bool
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    may_override: bool = False


@bp.route("/cylinders/<serial>/transfer", methods=["GET", "POST"])
@session.sign_in_first
def transfer(serial: str) -> Response | str:
    """Check a transfer, then record it; what is checked stands in the address, so that the page can be loaded again."""
    services, actor, show = session.services(), session.actor(), session.show()
    judgement = overview.one(services, actor, serial).judgement
    typed = request.form if request.method == "POST" else request.args
    form, check = Form(typed or _usual(judgement)), None
    if typed.get("step") and (new := transfer_of(form, show, serial)) is not None:
        if request.method == "POST" and typed["step"] != "record":
            return redirect(f"{request.path}?{_asked(form)}")
        act = transfers.record if request.method == "POST" else transfers.rehearse
        check = _attempt(form, partial(act, services, actor, new), show)
        if request.method == "POST" and check is not None and check.allowed:
            done("The transfer is recorded.")
            return redirect(url_for("board.cylinder", serial=serial))
    return render_template(
        "transfer.html",
        form=form,
        check=check,
        serial=serial,
        now=", ".join(part for part in (*headline(judgement), contamination_of(judgement)[1]) if part),
        room=fill_text(judgement, show),
        known=last_known(judgement, services.catalogue.designations, show, session.say),
        designations=services.catalogue.designations,
        serials=[other for other in overview.serials(services, actor) if other != serial],
        may_decide=session.may(*MAY_OVERRIDE),
    )


def _asked(form: Form) -> str:
    return urlencode({name: value for name, value in form.values.items() if value and name not in UNASKED})


def _usual(judgement: Judgement) -> dict[str, str]:
    """Begin with what is allowed: more of what is in it; nothing comes out of an empty one, so there going in."""
    going_in = judgement.permits[Act.FILL].allowed or judgement.belief.is_empty
    known = judgement.permits[Act.FILL].allowed and not judgement.belief.is_empty
    usual = {"direction": "in" if going_in else "out", "phase": "liquid"}
    return {**usual, "designation": judgement.name.bare or ""} if known else usual


def _attempt(form: Form, act: partial[Done], show: Quantities) -> Checked | None:
    try:
        found = act()
    except Conflict as error:
        reasons = tuple(session.sentence(reason) for reason in error.reasons)
        return Checked(False, reasons, may_override=all(reason.may_override for reason in error.reasons))
    except OperationError as error:
        form.refusals = session.refusals(error)
        return None
    notes = [f"{caution.detail}: {caution.rule.text}" for caution in found.check.cautions]
    if found.check.remaining_after_kg is not None:
        notes.insert(0, f"After it there is room for {show.mass(found.check.remaining_after_kg)}.")
    return Checked(True, notes=tuple(f"{note[:1].upper()}{note[1:]}" for note in notes))


def transfer_of(form: Form, show: Quantities, serial: str) -> NewTransfer | None:
    """Read what went in or out; None with the form's errors."""
    direction = form.choice("direction", "Which way", ("in", "out"))
    designation = form.text("designation", "Refrigerant", required=direction == "in", longest=40)
    moved = mass_kg(form, show, "How much", required=True)
    phase = form.choice("phase", "Through which valve", PHASES)
    other = form.text("to_cylinder", "Other cylinder", required=False, longest=64)
    equipment: Equipment = {}
    if appliance := form.text("appliance", "Equipment", required=False, longest=120):
        equipment["appliance"] = appliance
    if owner := form.text("owner", "Its owner", required=False, longest=120):
        equipment["owner"] = owner
    if location := form.text("location", "Where it is", required=False, longest=120):
        equipment["location"] = location
    if other and direction == "in":
        form.errors["to_cylinder"] = (
            "Other cylinder: open that cylinder and record it as out of it, into this one"
        )
    reason = form.text("override_reason", "Reason", required=False, longest=400)
    if not form.ok:
        return None
    person = session.person()
    return NewTransfer(
        serial=serial,
        direction="in" if direction == "in" else "out",
        weighing=Weighing(mass_kg=moved),
        refrigerant=designation or None,
        phase=phase,
        technician=person.name if person else None,
        certification_number=person.certification_number if person else None,
        equipment=equipment or None,
        to_cylinder=other or None,
        override_reason=reason or None,
    )
