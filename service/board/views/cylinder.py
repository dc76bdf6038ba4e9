"""The cylinder's page: verdict in one sentence, evidence, what could not have been seen, what is next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.board import wording
from service.board.fill import Fill
from service.board.pt_chart import Point, PtChart
from service.board.quantities import SPACE, Quantities, percent
from service.board.trace import Sample, Trace
from service.board.views import cards
from service.board.views.rack import Need
from service.operations.rack import Racked
from service.store.cylinders import Cylinder
from service.store.events import Event
from service.store.pairs import StoredPair
from service.store.verdicts import StoredVerdict

SHOWN = 6
STATES = {"none": "Nothing", "air": "Air", "shifted": "Shifted composition", "mixed": "Another refrigerant"}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A row of the candidates' table; places of the drawn difference in percent of its width."""

    designation: str
    share: str
    share_width: float
    saturation: str
    difference: str
    dot: float | None
    whisker: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class PairRow:
    """A row of the pairs' table."""

    at: datetime
    temperature: str
    temp_noise: str
    temp_bias: str
    pressure: str
    pressure_noise: str
    pressure_bias: str
    remarks: str


@dataclass(frozen=True, slots=True)
class Hooked:
    """The hookup as the page shows it."""

    id: int
    temperature: str
    pressure: str
    state_code: str
    state: str
    detail: str
    at: datetime | None
    reasons: tuple[str, ...]
    pressure_device: str
    temperature_device: str
    valve: str
    since: datetime


@dataclass(frozen=True, slots=True)
class Happening:
    """A line of the history."""

    at: datetime
    text: str
    actor: str


@dataclass(frozen=True, slots=True)
class CylinderPage:
    """Everything on the page, as text."""

    serial: str
    subjects: tuple[str, ...]
    place: str
    claimed: str | None
    sentence: str
    needs: tuple[Need, ...]
    disposition_title: str
    disposition: str
    fill: Fill
    room: str
    candidates: tuple[Candidate, ...]
    more_candidates: str
    contaminations: tuple[tuple[str, str], ...]
    unseen: tuple[str, ...]
    next: str
    reasons: tuple[str, ...]
    pressing: tuple[str, ...]
    cautions: tuple[str, ...]
    model_version: str
    pairs: tuple[PairRow, ...]
    chart: PtChart | None
    chart_words: str
    hookup: Hooked | None
    trace: Trace | None
    trace_words: str
    marks: tuple[tuple[str, str, bool], ...]
    history: tuple[Happening, ...]
    work: tuple[tuple[str, str, bool], ...] = ()
    papers: tuple[tuple[str, str], ...] = ()
    shipping: str = ""


def sentence(racked: Racked, verdict: StoredVerdict | None, show: Quantities) -> str:
    """Say the verdict, or why there is none yet."""
    if verdict is None:
        claim = racked.row.claimed_designation
        said = f"its label says {claim}, which nothing confirms yet" if claim else "it carries no claim"
        return f"What is in it is not known: {said}."
    document = verdict.document
    air = document["contamination"]["air"]
    found = document["identity"]["candidates"]
    return wording.sentence(
        verdict.identity_finding,
        racked.possible,
        percent(found[0]["probability"]) if found else "",
        verdict.contamination_finding,
        verdict.contents_finding,
        show.pressure(air["partial_pressure_pa"], _spread(air)) if air else None,
    )


def _spread(air: dict[str, Any]) -> float:
    low, high = float(air["partial_pressure_low_pa"]), float(air["partial_pressure_high_pa"])
    return max((high - low) / 4.0, 100.0)


def candidate_rows(
    document: dict[str, Any] | None, spoken: Sequence[StoredPair], show: Quantities
) -> tuple[tuple[Candidate, ...], str]:
    """Write the likeliest candidates against the first reading, and say how many are left out."""
    if document is None or not spoken:
        return (), ""
    doubt_k = reading_doubt_k(spoken[-1])
    found = document["identity"]["candidates"]
    shown = found[:SHOWN]
    offs = [abs(c["temp_difference_k"]) for c in shown if c["temp_difference_k"] is not None]
    reach = max([*offs, doubt_k]) + 2.0 * doubt_k
    rows = tuple(_candidate(c, doubt_k, reach, show) for c in shown)
    left = len(found) - len(shown)
    rest = sum(c["probability"] for c in found[SHOWN:])
    more = f"{left} more share {percent(rest)} between them." if left > 0 else ""
    return rows, more


def _candidate(found: dict[str, Any], doubt_k: float, reach: float, show: Quantities) -> Candidate:
    off = found["temp_difference_k"]
    dot = whisker = None
    if off is not None:
        dot = 50.0 + 48.0 * off / reach
        half = 48.0 * 2.0 * doubt_k / reach
        whisker = (dot - half, dot + half)
    return Candidate(
        designation=found["designation"],
        share=percent(found["probability"]),
        share_width=100.0 * found["probability"],
        saturation=show.temperature(found["saturation_temp_k"], doubt_k),
        difference=show.kelvins(off, doubt_k),
        dot=dot,
        whisker=whisker,
    )


def reading_doubt_k(pair: StoredPair) -> float:
    """Give a reading's standard uncertainty as a temperature [K]; curves rise by about 2.7 % a kelvin."""
    pressure_pa = math.hypot(pair.pressure_noise_pa, pair.pressure_bias_pa, pair.atmosphere_bias_pa)
    return math.hypot(pair.temp_noise_k, pair.temp_bias_k, pressure_pa / pair.pressure_pa / 0.027)


def contaminations(document: dict[str, Any], show: Quantities) -> tuple[tuple[str, str], ...]:
    """Write the probabilities of contamination, with the amount where one was estimated."""
    found = document["contamination"]
    lines = []
    for code, probability in found["probabilities"].items():
        text = percent(probability)
        if code == "air" and found["air"]:
            text += f": {_air(found['air'], show)}"
        if code == "mixed" and found["partners"]:
            text += f": {_partners(found['partners'])}"
        lines.append((STATES.get(code, code), text))
    return tuple(lines)


def _air(air: dict[str, Any], show: Quantities) -> str:
    spread = _spread(air)
    low = show.pressure(max(air["partial_pressure_low_pa"], 0.0), spread)
    high = show.pressure(air["partial_pressure_high_pa"], spread)
    share = percent(air["vapour_volume_share"])
    return f"{show.pressure(air['partial_pressure_pa'], spread)} ({low} to {high}), {share} of the vapour"


def _partners(partners: Sequence[dict[str, Any]]) -> str:
    likeliest = sorted(partners, key=lambda p: -p["probability"])[:2]
    return wording.listed([f"{percent(p['mass_fraction'])} {p['contaminant']}" for p in likeliest])


def unseen(document: dict[str, Any], show: Quantities) -> tuple[str, ...]:
    """Write the detection limits, in plain words."""
    lines = []
    for limit in document["contamination"]["detection_limits"]:
        name = limit["contaminant"]
        if limit["partial_pressure_pa"] is not None:
            lines.append(f"less than {show.pressure(limit['partial_pressure_pa'], 1000.0)} of {name}")
        elif limit["mass_fraction"] is not None:
            lines.append(f"less than {percent(limit['mass_fraction'])} {name} by mass")
        else:
            lines.append(f"{name} at all" if not limit["note"] else f"{name}: {limit['note']}")
    return tuple(lines)


def next_measurement(document: dict[str, Any]) -> str:
    """Say what to measure next and what it is worth."""
    found = document["next_measurement"]
    bits = found["expected_information_bits"]
    worth = f" (worth {bits:.1f}{SPACE}bit of what is still open)" if bits >= 0.05 else ""
    action = str(found["action"]).rstrip(".")
    return f"{action[:1].upper()}{action[1:]}{worth}."


def pair_row(pair: StoredPair, show: Quantities) -> PairRow:
    """Write one pair with its uncertainties."""
    remarks = [*(["provisional, does not count"] if pair.provisional else []), *pair.reasons]
    temp_u = math.hypot(pair.temp_noise_k, pair.temp_bias_k)
    pressure_u = math.hypot(pair.pressure_noise_pa, pair.pressure_bias_pa, pair.atmosphere_bias_pa)
    bias_pa = math.hypot(pair.pressure_bias_pa, pair.atmosphere_bias_pa)
    return PairRow(
        at=pair.settled_at,
        temperature=show.temperature(pair.temp_k, temp_u),
        temp_noise=show.span(pair.temp_noise_k),
        temp_bias=show.span(pair.temp_bias_k),
        pressure=show.pressure(pair.pressure_pa, pressure_u),
        pressure_noise=show.pressure_span(pair.pressure_noise_pa),
        pressure_bias=show.pressure_span(bias_pa),
        remarks="; ".join(remarks),
    )


def hooked(racked: Racked, show: Quantities) -> Hooked | None:
    """Write the hookup with its last live values."""
    at = racked.attached
    if at is None:
        return None
    said = at.document or {}
    code, words = cards.settling(at)
    details = []
    if said.get("good_to_k") is not None and code != "waiting":
        details.append(f"good to {show.span(said['good_to_k'])}")
    if said.get("battery_percent") is not None:
        details.append(f"battery {said['battery_percent']:.0f}{SPACE}%")
    if said.get("mass_kg") is not None:
        details.append(f"scale {show.mass(said['mass_kg'])}")
    return Hooked(
        id=at.hookup_id,
        temperature=show.temperature(at.temp_k),
        pressure=cards.live_pressure(at, show),
        state_code=code,
        state=words,
        detail=", ".join(details),
        at=at.at,
        reasons=tuple(str(reason) for reason in said.get("reasons") or ()),
        pressure_device=at.pressure_device,
        temperature_device=at.temperature_device,
        valve=at.valve,
        since=at.from_at,
    )


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
    return Happening(event.at, wording.event(event.type, event.data, show), wording.actor(event.actor))


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
    return f"{levels}. It holds {show.mass(net)}; {show.mass(limit - net)} more may go in."


def disposition_title(document: dict[str, Any] | None) -> str:
    """Give the disposition's heading."""
    if document is None:
        return ""
    code = str(document["disposition"]["code"])
    return wording.DISPOSITION.get(code, code)


def chart_words(rows: Sequence[Candidate], pairs: int) -> str:
    """Say in words what the chart shows, for those who do not see it."""
    if not rows:
        return ""
    offs = wording.listed([f"{row.designation} off by {row.difference}" for row in rows[:3]], "and")
    readings = "one settled reading" if pairs == 1 else f"{pairs} settled readings"
    return f"{readings} among the saturation curves of the candidates: {offs}. The numbers are in the tables."


def trace_words(course: Sequence[Sample], hookup: Hooked | None, show: Quantities) -> str:
    """Say in words what the trace shows."""
    if hookup is None or not course:
        return ""
    first = course[0]
    return (
        f"wall temperature from {show.temperature(first.temp_k)} to {hookup.temperature}, pressure from"
        f" {show.pressure(first.pressure_pa)} to {hookup.pressure}; now {hookup.state}"
    )


def point(pair: StoredPair) -> Point:
    """Place one pair in the chart, with its whole uncertainty."""
    return Point(
        pair.temp_k,
        pair.pressure_pa,
        math.hypot(pair.temp_noise_k, pair.temp_bias_k),
        math.hypot(pair.pressure_noise_pa, pair.pressure_bias_pa, pair.atmosphere_bias_pa),
        pair.provisional,
    )


def typed_marks(known: Cylinder, show: Quantities) -> dict[str, str]:
    """Write what is recorded as somebody would have typed it."""

    def mass(value_kg: float | None) -> str:
        return "" if value_kg is None else f"{show.mass_value(value_kg):.4g}"

    return {
        "place": known.place or "",
        "marks": known.marks or "",
        "requalification_stamp": known.requalification_stamp or "",
        "claimed_designation": known.claimed_designation or "",
        "owner": known.owner or "",
        "water_capacity": mass(known.water_capacity_kg),
        "tare": mass(known.tare_kg),
    }
