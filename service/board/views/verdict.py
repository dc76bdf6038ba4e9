"""What the page tells of a verdict: candidates, contamination, what could not have been seen, what is next."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board import phrases
from service.board.quantities import SPACE, Quantities, percent
from service.store.pairs import StoredPair
from service.store.verdicts import StoredVerdict
from service.verdict.cautions import ALWAYS
from service.verdict.model import AirEstimate, Contamination, MixturePartner, NextMeasurement, Verdict
from service.verdict.model import Candidate as Found

SHOWN = 6
CAVEATS = {
    "vapour-only": "Without liquid the pressure says nothing of this; the list is what was to be expected before.",
    "liquid-full": "A liquid-full cylinder's pressure says nothing of this; the list is what was to be expected.",
}
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
class Judged:
    """A verdict as text."""

    disposition_title: str
    disposition: str
    caveat: str
    candidates: tuple[Candidate, ...]
    more_candidates: str
    contaminations: tuple[tuple[str, str], ...]
    unseen: tuple[str, ...]
    next: str
    reasons: tuple[str, ...]
    pressing: tuple[str, ...]
    cautions: tuple[str, ...]
    model_version: str


def judged(verdict: StoredVerdict | None, spoken: Sequence[StoredPair], show: Quantities) -> Judged | None:
    """Write a verdict with the pairs that it rests on, newest first; None while there is none."""
    if verdict is None or not spoken:
        return None
    return told(verdict.found, reading_doubt_k(spoken[-1]), show)


def told(found: Verdict, doubt_k: float, show: Quantities) -> Judged:
    """Write a verdict whose first reading is good to `doubt_k` as a temperature [K]."""
    candidates, more = candidate_rows(found, doubt_k, show)
    code = found.disposition.code
    return Judged(
        disposition_title=phrases.DISPOSITION.get(code, code),
        disposition=found.disposition.text,
        caveat=CAVEATS.get(found.contents_state.finding, ""),
        candidates=candidates,
        more_candidates=more,
        contaminations=contaminations(found.contamination, show),
        unseen=unseen(found.contamination, show),
        next=next_measurement(found.next_measurement),
        reasons=found.reasons,
        pressing=tuple(caution for caution in found.cautions if caution not in ALWAYS),
        cautions=ALWAYS,
        model_version=found.model_version,
    )


def candidate_rows(verdict: Verdict, doubt_k: float, show: Quantities) -> tuple[tuple[Candidate, ...], str]:
    """Write the likeliest candidates against the first reading, good to `doubt_k` [K], and count the others."""
    found = verdict.identity.candidates
    shown = found[:SHOWN]
    offs = [abs(c.temp_difference_k) for c in shown if c.temp_difference_k is not None]
    reach = max([*offs, doubt_k]) + 2.0 * doubt_k
    rows = tuple(_candidate(c, doubt_k, reach, show) for c in shown)
    left = len(found) - len(shown)
    rest = sum(c.probability for c in found[SHOWN:])
    more = f"{left} more share {percent(rest)} between them." if left > 0 else ""
    return rows, more


def _candidate(found: Found, doubt_k: float, reach: float, show: Quantities) -> Candidate:
    off = found.temp_difference_k
    dot = whisker = None
    if off is not None:
        dot = 50.0 + 48.0 * off / reach
        half = 48.0 * 2.0 * doubt_k / reach
        whisker = (dot - half, dot + half)
    return Candidate(
        designation=found.designation,
        share=percent(found.probability),
        share_width=100.0 * found.probability,
        saturation=show.temperature(found.saturation_temp_k, doubt_k),
        difference=show.kelvins(off, doubt_k),
        dot=dot,
        whisker=whisker,
    )


def reading_doubt_k(pair: StoredPair) -> float:
    """Give a reading's standard uncertainty as a temperature [K]."""
    pressure_sd_pa = math.hypot(pair.pressure_noise_pa, pair.pressure_bias_pa, pair.atmosphere_bias_pa)
    return as_temperature_k(
        math.hypot(pair.temp_noise_k, pair.temp_bias_k), pressure_sd_pa / pair.pressure_pa
    )


def as_temperature_k(temp_sd_k: float, pressure_share: float) -> float:
    """Join the uncertainties of both [K], [-] into one of temperature [K]; curves rise by about 2.7 % a kelvin."""
    return math.hypot(temp_sd_k, pressure_share / 0.027)


def contaminations(found: Contamination, show: Quantities) -> tuple[tuple[str, str], ...]:
    """Write the probabilities of contamination, with the amount where one was estimated."""
    lines = []
    for code, probability in found.probabilities.items():
        text = percent(probability)
        if code == "air" and found.air:
            text += f": {_air(found.air, show)}"
        if code == "mixed" and found.partners:
            text += f": {_partners(found.partners)}"
        lines.append((STATES.get(code, code), text))
    return tuple(lines)


def _air(air: AirEstimate, show: Quantities) -> str:
    spread = spread_pa(air)
    low = show.pressure(max(air.partial_pressure_low_pa, 0.0), spread)
    high = show.pressure(air.partial_pressure_high_pa, spread)
    share = percent(air.vapour_volume_share)
    return f"{show.pressure(air.partial_pressure_pa, spread)} ({low} to {high}), {share} of the vapor"


def spread_pa(air: AirEstimate) -> float:
    """Give the standard uncertainty of an estimate of air [Pa]."""
    return max((air.partial_pressure_high_pa - air.partial_pressure_low_pa) / 4.0, 100.0)


def _partners(partners: Sequence[MixturePartner]) -> str:
    likeliest = sorted(partners, key=lambda p: -p.probability)[:2]
    return phrases.listed([f"{percent(p.mass_fraction)} {p.contaminant}" for p in likeliest])


def unseen(found: Contamination, show: Quantities) -> tuple[str, ...]:
    """Write the detection limits, in plain words."""
    lines = []
    for limit in found.detection_limits:
        name = limit.contaminant
        if limit.partial_pressure_pa is not None:
            lines.append(f"less than {show.pressure(limit.partial_pressure_pa, 1000.0)} of {name}")
        elif limit.mass_fraction is not None:
            lines.append(f"less than {percent(limit.mass_fraction)} {name} by mass")
        else:
            note = limit.note or f"any share of {name}"
            lines.append(f"{note[:1].lower()}{note[1:]}".rstrip("."))
    return tuple(lines)


def next_measurement(found: NextMeasurement) -> str:
    """Say what to measure next and what it is worth."""
    bits = found.expected_information_bits
    worth = f" (worth {bits:.1f}{SPACE}bit of what is still open)" if bits >= 0.05 else ""
    action = found.action.rstrip(".")
    return f"{action[:1].upper()}{action[1:]}{worth}."


def pair_row(pair: StoredPair, show: Quantities) -> PairRow:
    """Write one pair with its uncertainties."""
    remarks = [
        *(["provisional, does not count"] if pair.provisional else []),
        *(phrases.remark(reason) for reason in pair.reasons),
    ]
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
