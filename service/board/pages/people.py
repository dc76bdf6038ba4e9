"""Who may sign in."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.operations import people
from service.operations.people import ROLES, NewPerson
from service.operations.support.errors import NotAllowed, OperationError


def _administrators_only() -> None:
    if not session.may("administrator"):
        raise NotAllowed("Only an administrator lets people in.")


@bp.route("/people", methods=["GET", "POST"])
@session.sign_in_first
def people_page() -> Response | str:
    """See who may sign in, and let somebody in."""
    _administrators_only()
    form = Form(request.form if request.method == "POST" else {"role": "technician"})
    if request.method == "POST":
        new = NewPerson(
            login=form.text("login", "Name to sign in with", longest=80),
            name=form.text("name", "Full name", longest=120),
            role=form.choice("role", "Role", ROLES),
            password=form.values.get("new_password", ""),
            certification_number=_optional(form, "certification", "Certification number", 80),
            certification_type=_optional(form, "certification_type", "Certification type", 40),
            certification_organisation=_optional(form, "certification_organisation", "Certified by", 120),
        )
        if form.ok:
            try:
                people.create(session.services(), session.actor(), new)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"{new.name} may sign in as {new.role}.")
                return redirect(url_for("board.people_page"))
    return render_template(
        "people.html", form=form, people=people.listed(session.services(), session.actor())
    )


@bp.post("/people/<int:person_id>/disable")
@session.sign_in_first
def disable_person(person_id: int) -> Response:
    """Let somebody in no longer."""
    _administrators_only()
    people.disable(session.services(), session.actor(), person_id)
    done("They can no longer sign in.")
    return redirect(url_for("board.people_page"))


def _optional(form: Form, name: str, label: str, longest: int) -> str | None:
    return form.text(name, label, required=False, longest=longest) or None
