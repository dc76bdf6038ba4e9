"""The cylinder's page: the verdict in one sentence, the marks and limits, the history."""

from dataclasses import dataclass
from datetime import datetime

from service.board import phrases
from service.board.event_text import happening as told
from service.board.fill import Fill
from service.board.pt_chart import PtChart
from service.board.quantities import Quantities, percent
from service.board.trace import Trace
from service.board.views import cards
from service.board.views.answer import Answer, Task
from service.board.views.hookup import Hooked
from service.board.views.rack import Need
from service.board.views.verdict import Judged as Told
from service.board.views.verdict import PairRow, spread_pa
from service.cylinders.judgement.belief import LIKELY
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.naming import Name
from service.operations.support.judgements import Judged
from service.store.cylinders import Cylinder
from service.store.events import Event
from service.store.instructions import Instruction
from service.store.verdicts import StoredVerdict

WITHOUT_PHASES = {
    "liquid-full": "Danger: the pressure fits a cylinder that is full of liquid; keep clear and cool it gently.",
    "vapour-only": "No liquid is left in it, so its pressure does not tell which refrigerant it is.",
}
HAZARDS = {
    "flammable": ("Flammable", "May be flammable"),
    "toxic": ("Toxic", "May be toxic"),
    "oxidizing": ("Oxidizing", "May be oxidizing"),
    "liquid-full": ("Liquid-full", "May be liquid-full"),
    "unknown": ("Contents unknown: treat as flammable and toxic", ""),
}


def hazards(judgement: Judgement) -> tuple[str, ...]:
    """Name each believable hazard, with what would bring it and how likely that is."""
    lines = []
    for hazard in judgement.hazards:
        sure, maybe = HAZARDS[hazard.code]
        names = f": {phrases.listed(hazard.designations)}" if hazard.designations else ""
        share = "" if hazard.code == "unknown" else f" ({percent(hazard.probability)})"
        lines.append(f"{sure if hazard.probability >= LIKELY else maybe}{names}{share}")
    return tuple(lines)


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
    instructions: tuple[Instruction, ...]
    hazards: tuple[str, ...]
    fill: Fill
    answer: Answer
    not_allowed: tuple[tuple[str, tuple[str, ...]], ...]
    unknowns: str
    judged: Told | None
    pairs: tuple[PairRow, ...]
    chart: PtChart | None
    chart_words: str
    explanations: tuple[str, ...]
    hookup: Hooked | None
    trace: Trace | None
    trace_words: str
    marks: tuple[tuple[str, str, bool], ...]
    history: tuple[Happening, ...]
    tasks: tuple[Task, ...]
    papers: tuple[tuple[str, str], ...]
    shipping: str


def sentence(judgement: Judgement, verdict: StoredVerdict | None, show: Quantities) -> str:
    """Say what is in it, or why nobody knows; never that anything is pure."""
    measured = judgement.state.measured
    if judgement.belief.is_empty:
        empty = judgement.state.contents.evacuated
        return "It is empty and evacuated." if empty else "It is empty, but not evacuated."
    if measured is None or verdict is None:
        return _unmeasured(judgement)
    if measured.contents in WITHOUT_PHASES:
        return WITHOUT_PHASES[measured.contents]
    if measured.identity == "unrecognised":
        return "No refrigerant on file fits these readings."
    return _measured(judgement.name, measured.contamination, verdict, show)


def _measured(name: Name, contamination: str, verdict: StoredVerdict, show: Quantities) -> str:
    sure = f"{name.text} ({percent(name.probability)})"
    match name.form:
        case "tentative" | "unknown":
            return f"It may be {name.text}: these readings cannot tell them apart yet."
        case "mixed":
            return f"It is likely to be {name.text}."
        case "with-something":
            return f"{sure}{_how_much_air(verdict, show)}."
    if contamination == "none-detected":
        return f"{sure}, and nothing else was detected in it."
    return f"{sure}; something else in it is not ruled out."


def _unmeasured(judgement: Judgement) -> str:
    name, label = judgement.name, judgement.state.label
    if judgement.state.assessment is not None:
        return f"Before the last transfer it held {name.text}; it has not been checked since."
    if name.form == "unknown" and label is None:
        return "Nobody knows what is in it: nothing was measured, and it has no label."
    if name.ground == "by label only":
        return f"Its label says {name.text}, which nothing confirms yet."
    return f"{name.text[:1].upper()}{name.text[1:]}, {name.ground}."


def _how_much_air(verdict: StoredVerdict, show: Quantities) -> str:
    air = verdict.found.contamination.air
    return f", about {show.pressure(air.partial_pressure_pa, spread_pa(air))}" if air else ""


def marks(judged: Judged, show: Quantities) -> tuple[tuple[str, str, bool], ...]:
    """Write the stamped marks and what follows from them; the third of each tells whether it is stamped."""
    row, judgement = judged.row, judged.judgement
    limit, net = judgement.filling.limit_kg, judgement.filling.net_mass_kg
    pressure = judgement.state.marks.service_pressure_pa
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
        ("Requalification", cards.retest(judgement.requalification), False),
        ("May hold", show.mass(limit) if limit is not None else "not known", False),
        ("Holds", show.mass(net) if net is not None else "not weighed", False),
    )


def happening(event: Event, show: Quantities) -> Happening:
    """Write one event of the cylinder."""
    return Happening(event.at, told(event.type, event.data, show), phrases.actor(event.actor))


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
