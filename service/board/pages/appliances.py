"""Equipment with its full charge, how fast it leaks, and what was done about it."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.readings import mass_kg
from service.cylinders.appliances import Kind, Method
from service.operations import appliances
from service.operations.appliances import WORKS, NewAppliance
from service.operations.support.errors import OperationError
from service.store.paging import LARGEST_PAGE, PageRequest

KINDS, METHODS = tuple(map(str, Kind)), tuple(map(str, Method))
OUTCOMES = {"passed": True, "failed": False}


@bp.route("/equipment", methods=["GET", "POST"])
@session.sign_in_first
def appliances_page() -> Response | str:
    """See the equipment, and register some."""
    services, actor = session.services(), session.actor()
    form = Form(request.form if request.method == "POST" else {"leak_method": METHODS[0]})
    if request.method == "POST" and (new := _new(form)) is not None:
        try:
            made = appliances.register(services, actor, new)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done(f"{made.name} is registered.")
            return redirect(url_for("board.appliance", appliance_id=made.id))
    known = appliances.listed(services, actor, PageRequest(LARGEST_PAGE)).items
    return render_template(
        "appliances.html", form=form, known=known, kinds=_offered(KINDS), methods=_offered(METHODS)
    )


@bp.route("/equipment/<int:appliance_id>", methods=["GET", "POST"])
@session.sign_in_first
def appliance(appliance_id: int) -> Response | str:
    """See how fast it leaks and what is due, and record what was done."""
    services, actor = session.services(), session.actor()
    form = Form(request.form)
    if request.method == "POST":
        kind = form.choice("kind", "What was done", WORKS)
        outcome = form.choice("outcome", "Outcome", tuple(OUTCOMES))
        note = form.text("note", "Note", required=False, longest=1000)
        if form.ok:
            person = session.person()
            appliances.add_work(
                services, actor, appliance_id, kind=kind, passed=OUTCOMES[outcome], note=note or None,
                technician=person.name if person else None,
            )  # fmt: skip
            done("It is recorded.")
            return redirect(url_for("board.appliance", appliance_id=appliance_id))
    found = appliances.leak_status(services, actor, appliance_id)
    return render_template("appliance.html", form=form, found=found, kinds=_offered(WORKS))


def _offered(codes: tuple[str, ...]) -> list[tuple[str, str]]:
    return [(code, code.replace("-", " ")) for code in codes]


def _new(form: Form) -> NewAppliance | None:
    location = form.text("location", "Location", longest=200)
    name = form.text("name", "Name", longest=120)
    refrigerant = form.text("refrigerant", "Refrigerant", longest=60)
    charge_kg = mass_kg(form, session.show(), "Full charge", required=True)
    kind = form.choice("kind", "What it is for", KINDS)
    method = form.choice("leak_method", "How the leak rate is computed", METHODS)
    owner = form.text("owner", "Owner", required=False, longest=120)
    circuit = form.text("circuit", "Circuit", required=False, longest=80)
    if not form.ok or charge_kg is None:
        return None
    return NewAppliance(location, name, refrigerant, charge_kg, kind, owner, circuit, method)
