"""Instruments: how far they are off, and the guided check that takes two minutes."""

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.quantities import Quantities
from service.board.views.instruments import instrument as view
from service.operations import instruments
from service.operations.instruments import NewCheck
from service.operations.support.errors import OperationError
from service.store.paging import PageRequest
from service.units import k_from_c, k_from_f, pa_from_kpa, pa_from_psi
from service.verdict.instruments.checks import ICE_POINT_K

STEPS = ("ice-bath", "open-air", "reference")
REFERENCE_K = 0.1
"""A reference thermometer is taken as good to this where its certificate says no more (a judgement) [K]."""


@bp.get("/instruments")
@session.sign_in_first
def instruments_page() -> str:
    """Show every instrument of which something is known."""
    found = instruments.listed(session.services(), session.actor())
    return render_template("instruments.html", rows=[view(one, session.show()) for one in found])


@bp.route("/instruments/<device>", methods=["GET", "POST"])
@session.sign_in_first
def instrument_page(device: str) -> Response | str:
    """Show one instrument with its control charts, and note a check."""
    services, actor, show = session.services(), session.actor(), session.show()
    one = instruments.read(services, actor, device)
    form = Form(request.form)
    if request.method == "POST":
        new = _check(form, device, show)
        if form.ok and new is not None:
            try:
                instruments.check(services, actor, new)
            except OperationError as error:
                form.refusals = session.refusals(error)
            else:
                done("The check is noted.")
                return redirect(url_for("board.instrument_page", device=device))
    course = {
        (each.row.thermometer, each.row.gauge): instruments.course(
            services, actor, each.row.thermometer, each.row.gauge
        )
        for each in one.sets
    }
    checks = instruments.checks(services, actor, device, PageRequest(20)).items
    return render_template("instrument.html", one=view(one, show, course, checks), form=form)


def _check(form: Form, device: str, show: Quantities) -> NewCheck | None:
    """What was typed; an ice bath shows 0 °C and open air 0 gauge where nothing is wrong."""
    method = form.choice("method", "How it was checked", STEPS)
    shown = form.number("shown", "It shows", above=-300.0, at_most=1000.0)
    reference = form.number(
        "reference", "The reference shows", required=method == "reference", above=-300.0, at_most=1000.0
    )
    if shown is None or not form.ok:
        return None
    if method == "open-air":
        error = pa_from_psi(shown) if show.inch_pound else pa_from_kpa(shown)
        return NewCheck(device, method, "zero_pa", error)
    true_k = ICE_POINT_K if reference is None or method == "ice-bath" else _kelvin(reference, show)
    uncertainty = REFERENCE_K if method == "reference" else None
    return NewCheck(device, method, "temperature_k", _kelvin(shown, show) - true_k, uncertainty)


def _kelvin(value: float, show: Quantities) -> float:
    return float(k_from_f(value) if show.inch_pound else k_from_c(value))
