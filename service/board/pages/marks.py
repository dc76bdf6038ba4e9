"""The stamped marks of a cylinder: registering it, correcting what was read."""

from urllib.parse import urlencode

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.readings import mass_kg
from service.board.pages.start import my_place
from service.board.quantities import Quantities
from service.board.views.cylinder import typed_marks
from service.operations import cylinders, overview
from service.operations.cylinders import CylinderFields
from service.operations.support.errors import OperationError
from service.units import kg_from_lb

ALIKE = ("place", "marks", "requalification_stamp", "water_capacity", "owner")
"""What the next cylinder of a van is likely to have in common with the one before."""


@bp.route("/register", methods=["GET", "POST"])
@session.sign_in_first
def register_cylinder() -> Response | str:
    """Take a cylinder into the fleet, by its serial alone if nothing else can be read."""
    form = Form(request.form if request.method == "POST" else {"place": my_place(), **request.args})
    if request.method == "POST":
        serial, values = form.text("serial", "Serial", longest=64), marks_of_new(form, session.show())
        if form.ok:
            try:
                cylinders.register(session.services(), session.actor(), serial, values)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done(f"{serial} is registered.")
                if form.values.get("then") == "next":
                    alike = {name: form.values[name] for name in ALIKE if form.values.get(name)}
                    return redirect(f"{request.path}?{urlencode(alike)}")
                return redirect(url_for("board.cylinder", serial=serial))
    return _marks_page(form, "Register a cylinder", "Register", None)


@bp.route("/cylinders/<serial>/marks", methods=["GET", "POST"])
@session.sign_in_first
def edit_cylinder(serial: str) -> Response | str:
    """Correct what is recorded of the stamps."""
    services, actor, show = session.services(), session.actor(), session.show()
    known = cylinders.read(services, actor, serial)
    form = Form(request.form if request.method == "POST" else typed_marks(known, show))
    if request.method == "POST":
        values, seen = read_marks(form, show), form.values.get("version", "")
        if form.ok:
            try:
                cylinders.correct(services, actor, serial, values, lambda now: str(now.version) == seen)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done("Corrected.")
                return redirect(url_for("board.cylinder", serial=serial))
    return _marks_page(form, "Correct the marks", "Keep", serial)


def marks_of_new(form: Form, show: Quantities) -> CylinderFields:
    """Read the marks of a cylinder that is found, and what it weighs now."""
    values = read_marks(form, show)
    weight = mass_kg(form, show, "Weight now, cylinder and contents", required=False)
    return values if weight is None else {**values, "gross_mass_kg": weight}


def read_marks(form: Form, show: Quantities) -> CylinderFields:
    """Read the stamped marks; what was left empty is not known."""
    per_unit = kg_from_lb(1.0) if show.inch_pound else 1.0

    def typed(name: str, label: str) -> str | None:
        return form.text(name, label, required=False) or None

    def weighed(name: str, label: str) -> float | None:
        value = form.number(name, label, required=False, above=0.0, at_most=5000.0)
        return None if value is None else value * per_unit

    values: CylinderFields = {
        "place": typed("place", "Where it stands"),
        "marks": typed("marks", "Specification"),
        "requalification_stamp": typed("requalification_stamp", "Requalification stamp"),
        "claimed_designation": typed("claimed_designation", "Refrigerant on its label"),
        "owner": typed("owner", "Owner"),
        "water_capacity_kg": weighed("water_capacity", "Water capacity"),
        "tare_kg": weighed("tare", "Tare weight"),
    }
    if form.values.get("confirmed"):
        values["confirmed"] = True
    return values


def _marks_page(form: Form, title: str, button: str, serial: str | None) -> str:
    services, actor = session.services(), session.actor()
    return render_template(
        "marks.html",
        form=form,
        title=title,
        button=button,
        serial=serial,
        alike=ALIKE,
        places=[("", "not known"), *((name, name) for name in overview.places(services, actor))],
        designations=services.catalogue.designations,
    )
