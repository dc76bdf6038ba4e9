"""Readings and weights that a person types in."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.quantities import Quantities
from service.operations import cylinders, pairs
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.errors import OperationError
from service.units import k_from_c, k_from_f, kg_from_lb, pa_from_kpa, pa_from_psi
from service.verdict.reading_conditions import Conditions

KINDS = ("gauge", "absolute")
SUN, REST_MIN, CLAMP = ("", "shade", "sun"), ("", "0", "30", "120"), ("", "bare", "insulated")


def mass_kg(form: Form, show: Quantities, label: str, *, required: bool) -> float | None:
    """Read a mass in the person's unit [kg]."""
    value = form.number("mass", label, required=required, above=0.0, at_most=5000.0)
    return None if value is None else (kg_from_lb(value) if show.inch_pound else value)


@bp.route("/cylinders/<serial>/reading", methods=["GET", "POST"])
@session.sign_in_first
def type_reading(serial: str) -> Response | str:
    """Take a temperature and a pressure that somebody read off."""
    services, actor, show = session.services(), session.actor(), session.show()
    cylinders.read(services, actor, serial)
    form = Form(request.form if request.method == "POST" else {"kind": "gauge"})
    if request.method == "POST" and (new := pair_of(form, show, serial)) is not None:
        try:
            pairs.record(services, actor, new)
        except OperationError as error:
            form.refusals = session.refusals(error)
        else:
            done("The reading is recorded.")
            return redirect(url_for("board.cylinder", serial=serial))
    return render_template("type_reading.html", form=form, serial=serial)


def temp_k_of(form: Form, show: Quantities) -> float | None:
    """Read the wall temperature in the person's unit [K]."""
    temp = form.number("temperature", "Wall temperature", above=-150.0, at_most=250.0)
    if temp is None:
        return None
    return k_from_f(temp) if show.inch_pound else k_from_c(temp)


def pressure_of(form: Form, show: Quantities) -> PressureReading | None:
    """Read a pressure, gauge or absolute, and the air pressure where it is known."""
    pressure = _pascals(form, show, "pressure", "Pressure", required=True)
    kind = form.choice("kind", "What the instrument shows", KINDS)
    barometer = _pascals(form, show, "barometer", "Air pressure here", required=False)
    if pressure is None:
        return None
    return PressureReading(
        absolute_pa=pressure if kind == "absolute" else None,
        gauge_pa=pressure if kind == "gauge" else None,
        ambient_pa=barometer,
    )


def conditions_of(form: Form) -> Conditions:
    """Read how the temperature was read; what was not said is unknown."""
    sun = form.choice("sun", "Sun", SUN)
    rest = form.choice("rest", "At rest for", REST_MIN)
    clamp = form.choice("clamp", "Clamp", CLAMP)
    return Conditions(
        in_sun=sun == "sun" if sun else None,
        at_rest_min=float(rest) if rest and form.ok else None,
        clamp_insulated=clamp == "insulated" if clamp else None,
    )


def pair_of(form: Form, show: Quantities, serial: str) -> NewPair | None:
    """Read a temperature, a pressure and what is known of both; None with the form's errors."""
    temp_k, pressure = temp_k_of(form, show), pressure_of(form, show)
    mass = mass_kg(form, show, "Weight", required=False)
    doubt = form.number("temperature_doubt", "Thermometer, ±", required=False, above=0.0, at_most=50.0)
    gauge_doubt = _pascals(form, show, "pressure_doubt", "Gauge, ±", required=False)
    conditions = conditions_of(form)
    if not form.ok or temp_k is None or pressure is None:
        return None
    return NewPair(
        temp_k=temp_k,
        pressure=pressure,
        serial=serial,
        temp_bias_k=None if doubt is None else doubt / (1.8 if show.inch_pound else 1.0),
        pressure_bias_pa=gauge_doubt,
        mass_kg=mass,
        conditions=conditions,
    )


def _pascals(form: Form, show: Quantities, name: str, label: str, *, required: bool) -> float | None:
    value = form.number(name, label, required=required, above=-101.0, at_most=30_000.0)
    if value is None:
        return None
    return pa_from_psi(value) if show.inch_pound else pa_from_kpa(value)


@bp.route("/cylinders/<serial>/weight", methods=["GET", "POST"])
@session.sign_in_first
def weigh(serial: str) -> Response | str:
    """Take the gross weight."""
    services, actor, show = session.services(), session.actor(), session.show()
    known = cylinders.read(services, actor, serial)
    form = Form(request.form)
    if request.method == "POST":
        gross_kg = mass_kg(form, show, "Weight", required=True)
        if form.ok:
            try:
                cylinders.correct(services, actor, serial, {"gross_mass_kg": gross_kg}, lambda _now: True)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done("The weight is recorded.")
                return redirect(url_for("board.cylinder", serial=serial))
    tare = show.mass(known.tare_kg) if known.tare_kg is not None else ""
    return render_template("weigh.html", form=form, serial=serial, tare=tare)
