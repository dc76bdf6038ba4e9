"""One cylinder's page."""

from datetime import timedelta

from flask import current_app, render_template, url_for

from service.board import desk, pt_chart, trace
from service.board.blueprint import bp
from service.board.pages.paper import found as paper_of
from service.board.quantities import Quantities
from service.board.views import cards, drawings
from service.board.views import cylinder as view
from service.board.views.hookup import hooked
from service.board.views.verdict import judged, pair_row
from service.operations import events, live, pairs, verdicts
from service.operations import rack as racks
from service.operations.errors import NotFound
from service.operations.rack import Racked
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
@desk.sign_in_first
def cylinder(serial: str) -> str:
    """Show one cylinder."""
    return render_template("cylinder.html", page=_page(serial, desk.show()), serial=serial)


def _page(serial: str, show: Quantities) -> view.CylinderPage:
    services, actor = desk.services(), desk.actor()
    racked, subject = racks.one(services, actor, serial), f"cylinders/{serial}"
    verdict = _verdict(serial)
    request = PageRequest(PAIRS_SHOWN)
    found = pairs.listed(services, actor, serial, request, epoch=racked.row.epoch, provisional=None).items
    spoken = [pair for pair in found if not pair.provisional]
    words, hookup = judged(verdict, spoken, show), hooked(racked, show)
    drawing = _drawing(serial, verdict) if verdict and spoken else None
    course = _course(racked)
    return view.CylinderPage(
        serial=serial,
        subjects=(subject,),
        place=racked.row.place or cards.NOWHERE,
        claimed=racked.row.claimed_designation,
        sentence=view.sentence(racked, verdict, show),
        needs=cards.needs(racked),
        fill=cards.fill(racked.filling),
        room=view.room(racked, show),
        judged=words,
        pairs=tuple(pair_row(pair, show) for pair in found),
        chart=_chart(racked, drawing, show),
        chart_words=drawings.chart_words(words.candidates if words else (), len(spoken)),
        explanations=drawings.explanations(drawing),
        hookup=hookup,
        trace=trace.trace(course, _settled(racked, spoken), show),
        trace_words=drawings.trace_words(course, hookup, show),
        marks=view.marks(racked, show),
        history=tuple(
            view.happening(event, show) for event in events.history(services, actor, subject)[:HISTORY_SHOWN]
        ),
        work=_work(serial, bool(racked.holds)),
        papers=_papers(serial),
        shipping=paper_of(serial).shipping.text or "",
    )


def _verdict(serial: str) -> StoredVerdict | None:
    try:
        return verdicts.newest(desk.services(), desk.actor(), serial)
    except NotFound:
        return None


def _settled(racked: Racked, spoken: list[StoredPair]) -> list[trace.Settled]:
    if racked.attached is None:
        return []
    return [trace.Settled(pair.settled_at, pair.temp_k, pair.pressure_pa) for pair in spoken]


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


def _course(racked: Racked) -> list[trace.Sample]:
    if racked.attached is None:
        return []
    services = desk.services()
    since = services.now() - TRACE_SPAN
    kept = live.trace(services, desk.actor(), racked.attached.hookup_id, since=since)
    every = max(1, len(kept) // TRACE_POINTS)
    return [trace.Sample(p.at, p.temp_k, p.pressure_pa, p.settling_state) for p in kept[::-1][::every][::-1]]


def _chart(racked: Racked, drawing: Chart | None, show: Quantities) -> pt_chart.PtChart | None:
    if drawing is None:
        return None
    service_pa = racked.marks.service_pressure_pa
    rating_pa = None if service_pa is None else service_pa + STANDARD_ATMOSPHERE_PA
    return pt_chart.pt_chart(drawings.curves(drawing), drawings.points(drawing), show, rating_pa)


def _drawing(serial: str, verdict: StoredVerdict) -> Chart | None:
    """Judge again with curves; the answer is kept, because a page is refreshed with every reading."""
    kept: dict[int, Chart | None] = current_app.extensions.setdefault("board-drawings", {})
    if verdict.id not in kept:
        while len(kept) >= DRAWINGS_KEPT:
            kept.pop(next(iter(kept)), None)
        kept[verdict.id] = verdicts.anew(desk.services(), desk.actor(), serial, chart=True).chart
    return kept[verdict.id]
