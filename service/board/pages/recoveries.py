"""Taking refrigerant out of equipment, from the plan to the vacuum: what is typed is kept until it is done."""

from collections.abc import Callable, Mapping
from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.recovery_form import SERIALS, closed, new_recovery, vacuum_reading
from service.board.pages.recovery_offers import offers, used
from service.board.views import recovery as views
from service.operations import (
    appliances,
    drafts,
    overview,
    recoveries,
    recovery_plan,
    recovery_state,
    recovery_steps,
)
from service.operations.recoveries import NewRecovery, Swap
from service.operations.recovery_end import Ending
from service.operations.recovery_plan import Rehearsed
from service.operations.support.errors import OperationError
from service.operations.transfers import MAY_OVERRIDE
from service.store.appliances import Appliance
from service.store.paging import LARGEST_PAGE, PageRequest

USUAL = {"method": "liquid"}
ENDED_SHOWN = 10
MOST_SERIALS = 500
"""More serials than this are not offered for completing: the page stays small [-]."""


@bp.get("/recoveries")
@session.sign_in_first
def recoveries_page() -> str:
    """See the recoveries that go on, with their calls, and the last that ended."""
    services, actor, show = session.services(), session.actor(), session.show()
    running = recovery_state.listed(services, actor, PageRequest(LARGEST_PAGE), open_only=True).items
    courses = [recovery_state.read(services, actor, one.id) for one in running]
    newest = recovery_state.listed(services, actor, PageRequest(ENDED_SHOWN), open_only=False).items
    return render_template(
        "recoveries.html",
        running=[(one, views.calling(one, show), views.summary(one, show)) for one in courses],
        ended=[one for one in newest if one.ended_at is not None],
        subjects=["recoveries", *(name for one in courses for name in _subjects(one))],
        draft=bool(drafts.read(services, actor, _start_form())),
    )


@bp.route("/recoveries/new", methods=["GET", "POST"])
@session.sign_in_first
def start_recovery() -> Response | str:
    """Plan a recovery, look at what fits where, and begin it; the draft outlives the phone."""
    services, actor, show = session.services(), session.actor(), session.show()
    if request.method == "POST":
        return _started(used(dict(request.form)))
    kept = drafts.read(services, actor, _start_form())
    form = Form({**USUAL, "cylinder_1": request.args.get("serial", ""), **kept})
    known = _known()
    looked = None
    if kept.get("step") and (kept.get("cylinder_1") or kept["step"] == "start"):
        new = new_recovery(form, show, known)
        looked = None if new is None else _rehearsed(form, new)
    serials = overview.serials(services, actor)
    return render_template(
        "recovery_start.html", form=form, looked=looked, known=known.values(), names=SERIALS,
        serials=serials if len(serials) <= MOST_SERIALS else (), designations=services.catalogue.designations,
        known_options=[(key, f"{one.name}, {one.location}") for key, one in known.items()],
        may_decide=session.may(*MAY_OVERRIDE), sentence=session.sentence,
        offers=offers(form, known.get(form.values.get("appliance_id", ""))) if kept.get("step") else (),
    )  # fmt: skip


@bp.post("/recoveries/new/draft")
@session.sign_in_first
def draft_recovery() -> tuple[str, int]:
    """Keep what is being typed."""
    drafts.keep(session.services(), session.actor(), _start_form(), _typed(request.form, drop=("step",)))
    return "", 204


@bp.get("/recoveries/<int:recovery_id>")
@session.sign_in_first
def recovery(recovery_id: int) -> str:
    """See one recovery as it goes on, and what comes next."""
    services, actor, show = session.services(), session.actor(), session.show()
    course = recovery_state.read(services, actor, recovery_id)
    kept = drafts.read(services, actor, _form_of(recovery_id))
    form = Form(kept, dict(kept.get("errors") or {}), list(kept.get("refusals") or []))
    serials = overview.serials(services, actor)
    return render_template(
        "recovery.html", course=course, call=views.calling(course, show), turns=views.turns(course, show),
        summary=views.summary(course, show), vacuum=views.vacuum(course, show), form=form,
        methods=views.METHODS, subjects=_subjects(course), below=views.below,
        waiting=[one.cylinder for one in course.fills if one.begun_at is None],
        serials=serials if len(serials) <= MOST_SERIALS else (),
    )  # fmt: skip


@bp.post("/recoveries/<int:recovery_id>/draft")
@session.sign_in_first
def draft_of_recovery(recovery_id: int) -> tuple[str, int]:
    """Keep what is being typed; the other phone sees it."""
    drafts.keep(session.services(), session.actor(), _form_of(recovery_id), _typed(request.form))
    return "", 204


@bp.post("/recoveries/<int:recovery_id>/swap")
@session.sign_in_first
def swap_cylinder(recovery_id: int) -> Response:
    """Take the cylinder off, and put the next one on where there is one."""

    def act(form: Form) -> str:
        on = form.values.get("cylinder") or None
        following = form.text("to_cylinder", "Next cylinder", required=False, longest=64)
        off = form.values.get("step") == "off"
        swap = Swap(closed(form, session.show(), on), None if off else following or None, without_next=off)
        if form.ok:
            recoveries.swap(session.services(), session.actor(), recovery_id, swap)
        return f"{on} is off." if on else "The next cylinder is on."

    return _acted(recovery_id, act)


@bp.post("/recoveries/<int:recovery_id>/method")
@session.sign_in_first
def change_method(recovery_id: int) -> Response:
    """Go on by another method."""

    def act(form: Form) -> str:
        method = form.choice("method", "How", tuple(views.METHODS))
        if form.ok:
            recovery_steps.change_method(session.services(), session.actor(), recovery_id, method)
        return f"It goes on by {views.METHODS.get(method, '')}."

    return _acted(recovery_id, act)


@bp.post("/recoveries/<int:recovery_id>/vacuum")
@session.sign_in_first
def note_vacuum(recovery_id: int) -> Response:
    """Note what the gauge on the equipment shows."""

    def act(form: Form) -> str:
        reading = vacuum_reading(form, required=True)
        if form.ok and reading is not None:
            recovery_steps.note_vacuum(session.services(), session.actor(), recovery_id, reading)
        return "The reading is noted."

    return _acted(recovery_id, act)


@bp.post("/recoveries/<int:recovery_id>/end")
@session.sign_in_first
def end_recovery(recovery_id: int) -> Response:
    """End it: the last weight, the vacuum, and why where something differs."""

    def act(form: Form) -> str:
        on = form.values.get("cylinder") or None
        ending = Ending(
            closed(form, session.show(), on),
            vacuum_reading(form, required=False),
            vacuum_reason=form.text("vacuum_reason", "Why not", required=False, longest=1000) or None,
            difference_reason=form.text("difference_reason", "Why", required=False, longest=1000) or None,
        )
        if form.ok:
            recoveries.end(session.services(), session.actor(), recovery_id, ending)
        return "The recovery has ended and is on record."

    return _acted(recovery_id, act)


def _started(typed: dict[str, Any]) -> Response:
    """Keep the draft; begin where that was asked. The answer is always a page that may be reloaded."""
    services, actor, show = session.services(), session.actor(), session.show()
    drafts.keep(services, actor, _start_form(), _typed(typed))
    form = Form(typed)
    new = new_recovery(form, show, _known()) if typed.get("step") == "start" else None
    if new is None:
        return redirect(url_for("board.start_recovery", _anchor="looked"), 303)
    try:
        recovery_id = recoveries.start(services, actor, new)
    except OperationError:
        return redirect(url_for("board.start_recovery", _anchor="looked"), 303)
    drafts.drop(services, actor, _start_form())
    done("The recovery is on. Open the valves.")
    return redirect(url_for("board.recovery", recovery_id=recovery_id), 303)


def _acted(recovery_id: int, act: Callable[[Form], str]) -> Response:
    """Act, or keep what was typed beside why it was refused; either way a page that may be reloaded."""
    services, actor, typed = session.services(), session.actor(), dict(request.form)
    form, told = Form(typed), ""
    try:
        told = act(form)
    except OperationError as error:
        form.refusals = session.refusals(error)
    back = url_for("board.recovery", recovery_id=recovery_id)
    if form.ok:
        drafts.drop(services, actor, _form_of(recovery_id))
        done(told)
        return redirect(back, 303)
    kept = {**_typed(typed), "errors": form.errors, "refusals": form.refusals}
    drafts.keep(services, actor, _form_of(recovery_id), kept)
    return redirect(f"{back}#complaints", 303)


def _rehearsed(form: Form, new: NewRecovery) -> Rehearsed | None:
    try:
        return recovery_plan.rehearse(session.services(), session.actor(), new)
    except OperationError as error:
        form.refusals = session.refusals(error)
        return None


def _known() -> dict[str, Appliance]:
    found = appliances.listed(session.services(), session.actor(), PageRequest(LARGEST_PAGE)).items
    return {str(one.id): one for one in found}


def _subjects(course: recovery_state.Course) -> list[str]:
    now = course.now
    on = [f"cylinders/{now.fill.cylinder}"] if now is not None else []
    return [f"recoveries/{course.recovery.id}", *on]


def _start_form() -> str:
    return f"recovery-start/{session.actor().name}"[:120]


def _form_of(recovery_id: int) -> str:
    recovery_state.read(session.services(), session.actor(), recovery_id)
    return f"recoveries/{recovery_id}"


def _typed(values: Mapping[str, Any], drop: tuple[str, ...] = ()) -> dict[str, Any]:
    return {name: value for name, value in values.items() if name not in ("csrf", *drop)}
