"""One cylinder's page."""

from datetime import timedelta

from flask import current_app, render_template, url_for

from service.board import pt_chart, session, trace
from service.board.blueprint import bp
from service.board.pages.holds import MAY_RELEASE
from service.board.pages.instructions import of_cylinder
from service.board.pages.paper import of_judged as paper_of
from service.board.pages.tasks import tasks
from service.board.quantities import Quantities
from service.board.views import cards, drawings
from service.board.views import cylinder as view
from service.board.views.answer import Task, answer, not_allowed, unsaid
from service.board.views.hookup import hooked
from service.board.views.verdict import judged, pair_row
from service.cylinders.judgement.judge import Judgement
from service.operations import live, overview, pairs, verdicts
from service.operations.support import events, inflows
from service.operations.support.errors import NotFound
from service.operations.support.judgements import Judged
from service.store.paging import PageRequest
from service.store.pairs import StoredPair
from service.store.verdicts import StoredVerdict
from service.units import STANDARD_ATMOSPHERE_PA
from service.verdict.model import Chart

TRACE_SPAN = timedelta(hours=6)
TRACE_POINTS = 400
DRAWINGS_KEPT = 64
PAIRS_SHOWN = 30
HISTORY_SHOWN = 40


@bp.get("/cylinders/<serial>")
@session.sign_in_first
def cylinder(serial: str) -> str:
    """Show one cylinder."""
    return render_template("cylinder.html", page=_page(serial, session.show()), serial=serial)


def _page(serial: str, show: Quantities) -> view.CylinderPage:
    services, actor = session.services(), session.actor()
    found, subject = overview.one(services, actor, serial), f"cylinders/{serial}"
    verdict, judgement = _verdict(serial), found.judgement
    request = PageRequest(PAIRS_SHOWN)
    kept = pairs.listed(services, actor, serial, request, epoch=found.row.epoch, provisional=None).items
    spoken = [pair for pair in kept if not pair.provisional]
    words, hookup = judged(verdict, spoken, show), hooked(found, show, services.now())
    drawing = _drawing(serial, verdict) if verdict and spoken else None
    course, said = _course(found), answer(judgement, show)
    return view.CylinderPage(
        serial=serial,
        subjects=(subject,),
        place=found.row.place or cards.NOWHERE,
        claimed=found.row.claimed_designation,
        sentence=view.sentence(judgement, verdict, show),
        instructions=tuple(of_cylinder(serial)),
        needs=unsaid(cards.needs(found), said),
        hazards=view.hazards(judgement),
        fill=cards.fill(judgement.filling),
        answer=said,
        not_allowed=not_allowed(judgement),
        unknowns=", ".join(text for _, text in judgement.unknowns),
        judged=words,
        pairs=tuple(pair_row(pair, show) for pair in kept),
        chart=_chart(judgement, drawing, show),
        chart_words=drawings.chart_words(words.candidates if words else (), len(spoken)),
        explanations=drawings.explanations(drawing),
        hookup=hookup,
        trace=trace.trace(course, _settled(found, spoken), show),
        trace_words=drawings.trace_words(course, hookup, show),
        marks=view.marks(found, show),
        history=tuple(
            view.happening(event, show) for event in events.history(services, actor, subject)[:HISTORY_SHOWN]
        ),
        tasks=_tasks(found),
        papers=_papers(serial),
        shipping=paper_of(found).shipping.text or "",
    )


def _tasks(found: Judged) -> tuple[Task, ...]:
    on_scale = inflows.scale(found.attached, session.services().now())[0] is not None
    return tasks(
        found.row.serial,
        found.judgement,
        hooked=bool(found.attached),
        on_scale=on_scale,
        may_release=session.may(*MAY_RELEASE),
    )


def _verdict(serial: str) -> StoredVerdict | None:
    try:
        return verdicts.newest(session.services(), session.actor(), serial)
    except NotFound:
        return None


def _settled(found: Judged, spoken: list[StoredPair]) -> list[trace.Settled]:
    if found.attached is None:
        return []
    return [trace.Settled(pair.settled_at, pair.temp_k, pair.pressure_pa) for pair in spoken]


def _papers(serial: str) -> tuple[tuple[str, str], ...]:
    papers = (
        ("Label, 62 by 100 mm, to print", "board.label_pdf"),
        ("Label, 4 by 6 in, for a label printer", "board.printer_label_pdf"),
        ("Page with label, shipping description and full-size hazard label, to print", "board.label_page"),
    )
    return tuple((text, url_for(endpoint, serial=serial)) for text, endpoint in papers)


def _course(found: Judged) -> list[trace.Sample]:
    if found.attached is None:
        return []
    services = session.services()
    since = services.now() - TRACE_SPAN
    kept = live.trace(services, session.actor(), found.attached.hookup_id, since=since)
    every = max(1, len(kept) // TRACE_POINTS)
    return [trace.Sample(p.at, p.temp_k, p.pressure_pa, p.settling_state) for p in kept[::-1][::every][::-1]]


def _chart(judgement: Judgement, drawing: Chart | None, show: Quantities) -> pt_chart.PtChart | None:
    if drawing is None:
        return None
    service_pa = judgement.state.marks.service_pressure_pa
    rating_pa = None if service_pa is None else service_pa + STANDARD_ATMOSPHERE_PA
    return pt_chart.pt_chart(drawings.curves(drawing), drawings.points(drawing), show, rating_pa)


def _drawing(serial: str, verdict: StoredVerdict) -> Chart | None:
    """Judge again with curves; the answer is kept, because a page is refreshed with every reading."""
    kept: dict[int, Chart | None] = current_app.extensions.setdefault("board-drawings", {})
    if verdict.id not in kept:
        while len(kept) >= DRAWINGS_KEPT:
            kept.pop(next(iter(kept)), None)
        kept[verdict.id] = verdicts.anew(session.services(), session.actor(), serial, chart=True).chart
    return kept[verdict.id]
