"""Instructions and questions pinned to a cylinder: leave one, tick one off, see what waits."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.operations import cylinders, instructions
from service.operations.support.errors import OperationError
from service.store.instructions import Instruction
from service.store.paging import PageRequest

SHOWN = 100
LONGEST = 500


@bp.get("/instructions")
@session.sign_in_first
def instructions_page() -> str:
    """Show what waits for somebody, in every place."""
    return render_template("instructions.html", waiting=of_cylinder(None), shown=SHOWN)


@bp.route("/cylinders/<serial>/instructions", methods=["GET", "POST"])
@session.sign_in_first
def pin_instruction(serial: str) -> Response | str:
    """Leave an instruction or a question for whoever is at the cylinder next."""
    services, actor = session.services(), session.actor()
    cylinders.read(services, actor, serial)
    form = Form(request.form)
    if request.method == "POST":
        text = form.text("text", "What is to be done", longest=LONGEST)
        if form.ok:
            instructions.pin(services, actor, serial, text)
            done("It stands first on the cylinder's page until somebody ticks it off.")
            return redirect(url_for("board.cylinder", serial=serial))
    return _page(serial, form)


@bp.post("/cylinders/<serial>/instructions/<int:instruction_id>/done")
@session.sign_in_first
def finish_instruction(serial: str, instruction_id: int) -> Response | str:
    """Tick one off, with an answer where it was a question."""
    form = Form(request.form)
    answer = form.text("answer", "Answer", required=False, longest=LONGEST)
    if form.ok:
        try:
            instructions.finish(session.services(), session.actor(), instruction_id, answer or None)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done("Ticked off. It is in the cylinder's history.")
            return redirect(url_for("board.cylinder", serial=serial))
    return _page(serial, form)


def of_cylinder(serial: str | None, *, open_only: bool = True) -> list[Instruction]:
    """Those of one cylinder, or of all, newest first."""
    services, actor = session.services(), session.actor()
    return list(
        instructions.listed(services, actor, PageRequest(SHOWN), serial=serial, open_only=open_only).items
    )


def _page(serial: str, form: Form) -> str:
    return render_template(
        "pin_instruction.html", form=form, serial=serial, known=of_cylinder(serial, open_only=False)
    )
