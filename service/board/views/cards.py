"""One cylinder of the rack as a card."""

from collections.abc import Callable
from datetime import date

from service.board import phrases
from service.board.fill import Fill
from service.board.quantities import Quantities, percent
from service.board.views.rack import LEVELS, Card, Need
from service.cylinders.judgement.causes import Kind
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.limit import Filling
from service.cylinders.requalification import Requalification, State
from service.operations.support.judgements import Judged
from service.store.alarms import Alarm
from service.store.live import stated_gauge_pa
from service.store.overview import Attached

LEVEL_OF = {"critical": "danger", "warning": "attention", "notice": "notice"}
RETEST = {
    State.CURRENT: "retest by {}",
    State.DUE_SOON: "retest due soon, by {}",
    State.OVERDUE: "retest OVERDUE since {}",
    State.UNKNOWN: "retest date not known",
    State.NEVER: "not refillable",
}
NOWHERE = "no place"
NAMED = 3


def card(judged: Judged, show: Quantities, url_of: Callable[[str], str]) -> Card:
    """Write a cylinder's card in a person's units."""
    row = judged.row
    glyph, contamination = contamination_of(judged.judgement)
    state_code, state = settling(judged.attached)
    designation, sure = headline(judged.judgement)
    place = row.place or NOWHERE
    return Card(
        key=row.id,
        serial=row.serial,
        url=url_of(row.serial),
        place=place,
        place_key=place,
        designation=designation,
        sure=sure,
        contamination_code=glyph,
        contamination=contamination,
        fill=fill(judged.judgement.filling),
        fill_text=fill_text(judged.judgement, show),
        retest=retest(judged.judgement.requalification),
        state_code=state_code,
        state=state,
        temperature=show.temperature(judged.attached.temp_k) if judged.attached else "",
        pressure=live_pressure(judged.attached, show) if judged.attached else "",
        seen=judged.attached.at if judged.attached else None,
        needs=needs(judged),
        refrigerants=judged.judgement.belief.believable,
        marks=row.marks or "",
    )


def contamination_of(judgement: Judgement) -> tuple[str, str]:
    """Give the glyph and words of what else may be in it."""
    if judgement.belief.is_empty:
        return "none", "evacuated" if judgement.state.contents.evacuated else "empty, not evacuated"
    if judgement.name.form == "mixed":
        return "mixed", f"mixed, {judgement.name.ground}"
    assessment = judgement.state.assessment
    if assessment is not None and assessment.carried:
        return "undecided", "not checked since the last transfer"
    return phrases.contamination(assessment.contamination if assessment else None)


def headline(judgement: Judgement) -> tuple[str, str]:
    """Give what it is, and how sure that is."""
    name, measured = judgement.name, judgement.state.measured
    sure = percent(name.probability) if measured is not None else name.ground
    match name.form:
        case "empty":
            last = " or ".join(judgement.belief.believable[:NAMED])
            return "Empty", f"last {last}" if last else ""
        case "mixed":
            return "Mixed", name.ground
        case "unknown" if measured is not None and measured.contents == "vapour-only":
            return "No liquid left", ""
        case "unknown" if measured is not None and measured.identity == "unrecognised":
            return "Not recognized", ""
        case "unknown" if not name.instead:
            return "Unknown", ""
        case "unknown" | "tentative":
            return name.text, "cannot tell yet" if measured is not None else name.ground
        case _:
            return name.text, sure


def settling(attached: Attached | None) -> tuple[str, str]:
    """Give the glyph and words of the settling state."""
    if attached is None:
        return phrases.settling(None)
    return phrases.settling(attached.settling_state or "waiting")


def live_pressure(attached: Attached, show: Quantities) -> str:
    """Write the live pressure as its instrument shows it; the stored one is absolute."""
    gauge_pa = stated_gauge_pa(attached.document or {})
    return show.absolute(attached.pressure_pa) if gauge_pa is None else show.gauge(gauge_pa)


def fill(filling: Filling) -> Fill:
    """Give the drawing's levels."""
    return Fill(filling.liquid_fraction, filling.limit_fraction, filling.over)


def fill_text(judgement: Judgement, show: Quantities) -> str:
    """Say how much is in it and how much it may hold."""
    filling = judgement.filling
    net, limit = filling.net_mass_kg, filling.limit_kg
    if net is None:
        return "not weighed" if limit is None else f"not weighed; limit {show.mass(limit)}"
    if filling.over:
        return f"OVERFULL: {show.mass(net)}, limit {'not known' if limit is None else show.mass(limit)}"
    if limit is None:
        return f"holds {show.mass(net)}; limit not known"
    return f"{show.mass(net).removesuffix(show.mass_unit)}of {show.mass(limit)} allowed"


def month(day: date | None) -> str:
    """Write a month as it is stamped."""
    return f"{day.month:02}/{day.year}" if day else ""


def retest(found: Requalification) -> str:
    """Say where the requalification stands."""
    return RETEST[found.state].format(month(found.due_on))


def needs(judged: Judged) -> tuple[Need, ...]:
    """List what needs somebody: the causes of the judgement, what devices say of themselves, the holds."""
    seen_by = {alarm.code: alarm.acknowledged_by for alarm in judged.alarms}
    judgement = judged.judgement
    found = [
        Need(
            LEVEL_OF[cause.severity],
            phrases.cause(str(cause.kind), cause.text),
            seen_by.get(str(cause.kind)),
            str(cause.kind),
        )
        for cause in judgement.attention
    ]
    causes = {str(cause.kind) for cause in judgement.attention}
    found += [
        need(alarm) for alarm in judged.alarms if alarm.code not in causes and alarm.code not in set(Kind)
    ]
    found += [Need("hold", f"On hold: {reason}") for reason in judgement.state.holds]
    return tuple(sorted(found, key=lambda one: LEVELS.index(one.level)))


def need(alarm: Alarm) -> Need:
    """Turn an open alarm into what a person must look after."""
    return Need(
        level=LEVEL_OF.get(alarm.severity, "attention"),
        text=phrases.alarm(alarm.code, alarm.text, alarm.cylinder),
        seen_by=alarm.acknowledged_by,
    )
