"""The cylinder's page: the verdict in one sentence, the marks and limits, the history."""

from dataclasses import dataclass
from datetime import datetime

from service.board import wording
from service.board.fill import Fill
from service.board.happenings import happening as told
from service.board.pt_chart import PtChart
from service.board.quantities import Quantities, percent
from service.board.trace import Trace
from service.board.views import cards
from service.board.views.hookup import Hooked
from service.board.views.rack import Need
from service.board.views.verdict import Judged, PairRow, spread_pa
from service.cylinders.requalification import State
from service.operations.rack import Racked
from service.store.cylinders import Cylinder
from service.store.events import Event
from service.store.verdicts import StoredVerdict


@dataclass(frozen=True, slots=True)
class Happening:
    """A line of the history."""

    at: datetime
    text: str
    actor: str


@dataclass(frozen=True, slots=True)
class CylinderPage:
    """Everything on the page, as text and drawings."""

    serial: str
    subjects: tuple[str, ...]
    place: str
    claimed: str | None
    sentence: str
    needs: tuple[Need, ...]
    fill: Fill
    room: str
    judged: Judged | None
    pairs: tuple[PairRow, ...]
    chart: PtChart | None
    chart_words: str
    explanations: tuple[str, ...]
    hookup: Hooked | None
    trace: Trace | None
    trace_words: str
    marks: tuple[tuple[str, str, bool], ...]
    history: tuple[Happening, ...]
    work: tuple[tuple[str, str, bool], ...]
    papers: tuple[tuple[str, str], ...]
    shipping: str


def sentence(racked: Racked, verdict: StoredVerdict | None, show: Quantities) -> str:
    """Say the verdict, or why there is none yet."""
    if verdict is None:
        claim = racked.row.claimed_designation
        said = f"its label says {claim}, which nothing confirms yet" if claim else "it carries no claim"
        return f"What is in it is not known: {said}."
    air, found = verdict.found.contamination.air, verdict.found.identity.candidates
    return wording.sentence(
        verdict.identity_finding,
        racked.possible,
        percent(found[0].probability) if found else "",
        verdict.contamination_finding,
        verdict.contents_finding,
        show.pressure(air.partial_pressure_pa, spread_pa(air)) if air else None,
    )


def room(racked: Racked, show: Quantities) -> str:
    """Say how much is in it, how much it may hold and how much may still go in."""
    net, limit, drawn = racked.filling.net_mass_kg, racked.filling.limit_kg, cards.fill(racked.filling)
    if racked.contents.is_empty:
        return "It is empty." if racked.contents.evacuated else "It is empty, and no vacuum is recorded."
    if net is None or limit is None:
        text = cards.fill_text(racked.filling, show)
        return f"{text[:1].upper()}{text[1:]}."
    levels = f"{drawn.words[:1].upper()}{drawn.words[1:]}"
    if net > limit:
        return f"{levels}: it holds {show.mass(net)}, and {show.mass(limit)} are allowed."
    why = _closed(racked)
    tail = f", but nothing may go in now: {why}" if why else ""
    return f"{levels}. It holds {show.mass(net)}; there is room for {show.mass(limit - net)}{tail}."


def _closed(racked: Racked) -> str:
    """Say what else than the weight forbids filling, or nothing."""
    if racked.holds:
        return "it is on hold"
    if racked.contents.is_mixed or (racked.gist and racked.gist.contamination_finding == "mixed"):
        return "it is mixed"
    return {
        State.OVERDUE: "it is past its requalification",
        State.UNKNOWN: "its requalification date is not known",
        State.NEVER: "it is not refillable",
    }.get(racked.requalification.state, "")


def marks(racked: Racked, show: Quantities) -> tuple[tuple[str, str, bool], ...]:
    """Write the stamped marks and what follows from them; the third of each tells whether it is stamped."""
    row, limit = racked.row, racked.filling.limit_kg
    pressure = racked.marks.service_pressure_pa
    return (
        ("Specification", row.marks or "not recorded", bool(row.marks)),
        ("Service pressure", show.gauge(pressure, 10_000.0) if pressure else "not known", False),
        ("Water capacity", show.mass(row.water_capacity_kg), False),
        ("Tare", show.mass(row.tare_kg), False),
        (
            "Requalification stamp",
            row.requalification_stamp or "not recorded",
            bool(row.requalification_stamp),
        ),
        ("Requalification", cards.retest(racked.requalification), False),
        ("May hold", show.mass(limit) if limit is not None else "not known", False),
        ("Holds", show.mass(row.net_mass_kg) if row.net_mass_kg is not None else "not weighed", False),
    )


def happening(event: Event, show: Quantities) -> Happening:
    """Write one event of the cylinder."""
    return Happening(event.at, told(event.type, event.data, show), wording.actor(event.actor))


def typed_marks(known: Cylinder, show: Quantities) -> dict[str, str]:
    """Write what is recorded as somebody would have typed it."""

    def mass(value_kg: float | None) -> str:
        return "" if value_kg is None else f"{show.mass_value(value_kg):.4g}"

    return {
        "version": str(known.version),
        "place": known.place or "",
        "marks": known.marks or "",
        "requalification_stamp": known.requalification_stamp or "",
        "claimed_designation": known.claimed_designation or "",
        "owner": known.owner or "",
        "water_capacity": mass(known.water_capacity_kg),
        "tare": mass(known.tare_kg),
    }
