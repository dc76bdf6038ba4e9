"""One cylinder: its page, its marks, registering it."""

from datetime import timedelta
from typing import Any

import numpy as np
from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import desk, pt_chart, trace
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.pages.paper import found as paper_of
from service.board.quantities import Quantities
from service.board.views import cards
from service.board.views import cylinder as view
from service.operations import cylinders, events, live, pairs, verdicts
from service.operations import rack as racks
from service.operations.errors import NotFound, OperationError
from service.operations.rack import Racked
from service.store.paging import PageRequest
from service.store.pairs import StoredPair
from service.store.verdicts import StoredVerdict
from service.units import STANDARD_ATMOSPHERE_PA, kg_from_lb
from service.verdict.cautions import ALWAYS

TRACE_SPAN = timedelta(hours=6)
TRACE_POINTS = 400
CHART_CURVES = 5


@bp.get("/cylinders/<serial>")
@desk.sign_in_first
def cylinder(serial: str) -> str:
    """Show one cylinder."""
    return render_template("cylinder.html", page=_page(serial, desk.show()), serial=serial)


def _page(serial: str, show: Quantities) -> view.CylinderPage:
    services, actor = desk.services(), desk.actor()
    racked = racks.one(services, actor, serial)
    epoch = cylinders.read(services, actor, serial).epoch
    try:
        verdict = verdicts.newest(services, actor, serial)
    except NotFound:
        verdict = None
    found = pairs.listed(services, actor, serial, PageRequest(30), epoch=epoch, provisional=None).items
    document = verdict.document if verdict else None
    spoken = [pair for pair in found if not pair.provisional]
    rows, more = view.candidate_rows(document, spoken, show)
    hooked = view.hooked(racked, show)
    course = _course(racked)
    settled = [trace.Settled(p.settled_at, p.temp_k, p.pressure_pa) for p in spoken] if hooked else []
    subject = f"cylinders/{serial}"
    return view.CylinderPage(
        serial=serial,
        subjects=(subject,),
        place=racked.row.place or cards.NOWHERE,
        claimed=racked.row.claimed_designation,
        sentence=view.sentence(racked, verdict, show),
        needs=cards.needs(racked),
        disposition_title=view.disposition_title(document),
        disposition=document["disposition"]["text"] if document else "",
        fill=cards.fill(racked.filling),
        room=view.room(racked, show),
        candidates=rows,
        more_candidates=more,
        contaminations=view.contaminations(document, show) if document else (),
        unseen=view.unseen(document, show) if document else (),
        next=view.next_measurement(document) if document else "",
        reasons=tuple(document["reasons"]) if document else (),
        pressing=tuple(c for c in document["cautions"] if c not in ALWAYS) if document else (),
        cautions=ALWAYS if document else (),
        model_version=verdict.model_version if verdict else "",
        pairs=tuple(view.pair_row(pair, show) for pair in found),
        chart=_chart(racked, verdict, spoken, show),
        chart_words=view.chart_words(rows, len(spoken)),
        hookup=hooked,
        trace=trace.trace(course, settled, show),
        trace_words=view.trace_words(course, hooked, show),
        marks=view.marks(racked, show),
        history=tuple(view.happening(event, show) for event in events.history(services, actor, subject)[:40]),
        work=_work(serial, bool(racked.holds)),
        papers=_papers(serial),
        shipping=_shipping(serial),
    )


def _work(serial: str, on_hold: bool) -> tuple[tuple[str, str, bool], ...]:
    actions = (
        ("Record a transfer", "board.transfer"),
        ("Weigh", "board.weigh"),
        ("Type a reading", "board.type_reading"),
        ("Release the hold" if on_hold else "Put on hold", "board.hold"),
        ("Exchange", "board.exchange"),
        ("Care", "board.care_page"),
        ("Label", "board.label_page"),
    )
    return tuple(
        (text, url_for(endpoint, serial=serial), not k) for k, (text, endpoint) in enumerate(actions)
    )


def _papers(serial: str) -> tuple[tuple[str, str], ...]:
    papers = (
        ("Label, 62 by 100 mm, to print", "board.label_pdf"),
        ("Page with label, shipping description and full-size hazard label, to print", "board.label_page"),
    )
    return tuple((text, url_for(endpoint, serial=serial)) for text, endpoint in papers)


def _shipping(serial: str) -> str:
    described = paper_of(serial).shipping
    return described.text or ""


def _course(racked: Racked) -> list[trace.Sample]:
    if racked.attached is None:
        return []
    services = desk.services()
    since = services.now() - TRACE_SPAN
    kept = live.trace(services, desk.actor(), racked.attached.hookup_id, since=since)
    every = max(1, len(kept) // TRACE_POINTS)
    return [trace.Sample(p.at, p.temp_k, p.pressure_pa, p.settling_state) for p in kept[::-1][::every][::-1]]


def _chart(
    racked: Racked, verdict: StoredVerdict | None, spoken: list[StoredPair], show: Quantities
) -> pt_chart.PtChart | None:
    if verdict is None or not spoken:
        return None
    points = [view.point(pair) for pair in spoken]
    low_k, high_k = pt_chart.temperature_window(points)
    names = racked.possible[:CHART_CURVES]
    curves = [curve for name in names if (curve := _curve(name, low_k, high_k)) is not None]
    service_pa = racked.marks.service_pressure_pa
    rating_pa = None if service_pa is None else service_pa + STANDARD_ATMOSPHERE_PA
    return pt_chart.pt_chart(curves, points, show, rating_pa)


def _curve(designation: str, low_k: float, high_k: float) -> pt_chart.Curve | None:
    curves = desk.services().curves
    first, last = curves.temp_range_k(designation)
    low_k, high_k = max(low_k, first), min(high_k, last)
    if low_k >= high_k:
        return None
    temp_k = np.linspace(low_k, high_k, 49)
    return pt_chart.Curve(
        designation,
        tuple(temp_k.tolist()),
        tuple(curves.bubble_pressure_pa(designation, temp_k).tolist()),
        tuple(curves.dew_pressure_pa(designation, temp_k).tolist()),
        float(curves.relative_uncertainty[curves.index(designation)]),
    )


@bp.route("/register", methods=["GET", "POST"])
@desk.sign_in_first
def register_cylinder() -> Response | str:
    """Take a cylinder into the fleet, by its serial alone if nothing else can be read."""
    form = Form(request.form)
    if request.method == "POST":
        serial, values = form.text("serial", "Serial", longest=64), read_marks(form, desk.show())
        if form.ok:
            try:
                cylinders.register(desk.services(), desk.actor(), serial, values)
            except OperationError as error:
                form.refusals = desk.refusals(error)
            else:
                done(f"{serial} is registered.")
                return redirect(url_for("board.cylinder", serial=serial))
    return _marks_page(form, "Register a cylinder", "Register", None)


@bp.route("/cylinders/<serial>/marks", methods=["GET", "POST"])
@desk.sign_in_first
def edit_cylinder(serial: str) -> Response | str:
    """Correct what is recorded of the stamps."""
    services, actor, show = desk.services(), desk.actor(), desk.show()
    known = cylinders.read(services, actor, serial)
    form = Form(request.form if request.method == "POST" else view.typed_marks(known, show))
    if request.method == "POST":
        values = read_marks(form, show)
        if form.ok:
            try:
                cylinders.correct(services, actor, serial, values, lambda now: now.version == known.version)
            except OperationError as error:
                form.refusals = desk.refusals(error)
            else:
                done("Corrected.")
                return redirect(url_for("board.cylinder", serial=serial))
    return _marks_page(form, "Correct the marks", "Keep", serial)


def read_marks(form: Form, show: Quantities) -> dict[str, Any]:
    """Read the stamped marks; what was left empty is not known."""
    per_unit = kg_from_lb(1.0) if show.inch_pound else 1.0
    values: dict[str, Any] = {
        name: form.text(name, label, required=False) or None
        for name, label in (
            ("place", "Where it stands"),
            ("marks", "Specification"),
            ("requalification_stamp", "Requalification stamp"),
            ("claimed_designation", "Refrigerant on its label"),
            ("owner", "Owner"),
        )
    }
    for name, label in (("water_capacity", "Water capacity"), ("tare", "Tare weight")):
        value = form.number(name, label, required=False, above=0.0, at_most=5000.0)
        values[f"{name}_kg"] = None if value is None else value * per_unit
    return values


def _marks_page(form: Form, title: str, button: str, serial: str | None) -> str:
    services, actor = desk.services(), desk.actor()
    return render_template(
        "marks.html",
        form=form,
        title=title,
        button=button,
        serial=serial,
        places=[("", "not known"), *((name, name) for name in racks.places(services, actor))],
        designations=services.catalogue.designations,
    )
