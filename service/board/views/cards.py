"""One cylinder of the rack as a card."""

from collections.abc import Callable
from datetime import date

from service.board import wording
from service.board.fill import Fill
from service.board.quantities import Quantities, percent
from service.board.views.rack import LEVELS, Card, Need
from service.cylinders.requalification import Requalification, State
from service.operations.rack import Filling, Racked
from service.store.alarms import Alarm
from service.store.rack import Attached

LEVEL_OF = {"critical": "danger", "warning": "attention", "notice": "notice"}
RETEST = {
    State.CURRENT: "retest by {}",
    State.DUE_SOON: "retest due soon, by {}",
    State.OVERDUE: "retest OVERDUE since {}",
    State.UNKNOWN: "retest date not known",
    State.NEVER: "not refillable",
}
NOWHERE = "no place"


def card(racked: Racked, show: Quantities, url_of: Callable[[str], str]) -> Card:
    """Write a cylinder's card in a person's units."""
    row = racked.row
    glyph, contamination = contamination_of(racked)
    state_code, state = settling(racked.attached)
    designation, sure = headline(racked)
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
        fill=fill(racked.filling),
        fill_text=fill_text(racked.filling, show),
        retest=retest(racked.requalification),
        state_code=state_code,
        state=state,
        temperature=show.temperature(racked.attached.temp_k) if racked.attached else "",
        pressure=live_pressure(racked.attached, show) if racked.attached else "",
        seen=racked.attached.at if racked.attached else None,
        needs=needs(racked),
        refrigerants=racked.possible,
        marks=row.marks or "",
    )


def contamination_of(racked: Racked) -> tuple[str, str]:
    """Give the glyph and words of what else may be in it."""
    if racked.contents.is_empty:
        return "none", "evacuated" if racked.contents.evacuated else "empty, not evacuated"
    if racked.gist is None and racked.contents.is_mixed:
        return "mixed", "mixed by the record"
    return wording.contamination(racked.gist.contamination_finding if racked.gist else None)


def headline(racked: Racked) -> tuple[str, str]:
    """Give what it is, and how sure that is."""
    gist = racked.gist
    if racked.contents.is_empty:
        last = racked.contents.last_designation
        return "Empty", f"last {last}" if last else ""
    if gist is None:
        return _unmeasured(racked)
    found = gist.identity.candidates
    if gist.contents_finding == "vapour-only":
        return "No liquid left", ""
    if gist.identity.finding == "unrecognised" or not found:
        return "Not recognised", ""
    names = [c.designation for c in found]
    if gist.identity.finding == "identified":
        return names[0], percent(found[0].probability)
    more = f" +{len(names) - 2}" if len(names) > 2 else ""
    return f"{wording.listed(names[:2])}{more}", "not parted"


def _unmeasured(racked: Racked) -> tuple[str, str]:
    basis = "by the record" if racked.contents.basis == "record" else "by its label"
    if racked.contents.is_mixed:
        return "Mixed", basis
    known = racked.contents.designation
    return (known, basis) if known else ("Unknown", "")


def settling(attached: Attached | None) -> tuple[str, str]:
    """Give the glyph and words of the settling state."""
    if attached is None:
        return wording.settling(None)
    return wording.settling(attached.settling_state or "waiting")


def live_pressure(attached: Attached, show: Quantities) -> str:
    """Write the live pressure as its instrument shows it; the stored one is absolute."""
    gauge_kpa = (attached.document or {}).get("gauge_pressure_kpa")
    return show.absolute(attached.pressure_pa) if gauge_kpa is None else show.gauge(gauge_kpa * 1000.0)


def fill(filling: Filling) -> Fill:
    """Give the drawing's levels."""
    return Fill(filling.liquid_fraction, filling.limit_fraction)


def fill_text(filling: Filling, show: Quantities) -> str:
    """Say how much is in it and how much it may still take."""
    net, limit = filling.net_mass_kg, filling.limit_kg
    if net is None:
        return "not weighed" if limit is None else f"not weighed; may hold {show.mass(limit)}"
    if limit is None:
        return f"holds {show.mass(net)}; limit not known"
    if net > limit:
        return f"OVERFULL: {show.mass(net)}, allowed {show.mass(limit)}"
    return f"{show.mass(net).removesuffix(show.mass_unit)}of {show.mass(limit)} allowed"


def month(day: date | None) -> str:
    """Write a month as it is stamped."""
    return f"{day.month:02}/{day.year}" if day else ""


def retest(found: Requalification) -> str:
    """Say where the requalification stands."""
    return RETEST[found.state].format(month(found.due_on))


def needs(racked: Racked) -> tuple[Need, ...]:
    """List what a person must look after: alarms, and what the record says whether or not it was raised."""
    raised = {alarm.code for alarm in racked.alarms}
    found = [need(alarm) for alarm in racked.alarms]
    found += [Need("hold", f"On hold: {hold.reason}") for hold in racked.holds]
    if fill(racked.filling).over and "overfull" not in raised:
        found.append(Need("danger", "Overfull by its last weight: take some out."))
    if racked.requalification.state is State.OVERDUE and "overdue" not in raised:
        found.append(Need("notice", "Past its requalification: it may be emptied, not filled."))
    return tuple(sorted(found, key=lambda one: LEVELS.index(one.level)))


def need(alarm: Alarm) -> Need:
    """Turn a standing alarm into what a person must look after."""
    return Need(
        level=LEVEL_OF.get(alarm.severity, "attention"),
        text=wording.alarm(alarm.code, alarm.text, alarm.cylinder),
        seen_by=alarm.acknowledged_by,
    )
