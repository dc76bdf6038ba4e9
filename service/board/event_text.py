"""What happened to a cylinder, one sentence an event."""

from collections.abc import Callable, Mapping
from typing import Any

from service.board import phrases
from service.board.quantities import Quantities, percent

Data = Mapping[str, Any]

CHANGES = {
    "registered": "Registered",
    "corrected": "Marks or weight corrected",
    "triage": "Taken in by its serial",
    "received": "Received evacuated",
    "evacuation": "Emptied and drawn to vacuum",
    "scrapping": "Taken out of service",
    "label": "Label printed",
}
OUTCOMES = {True: "passed", False: "failed", None: ""}


def happening(kind: str, data: Data, show: Quantities) -> str:
    """Say what one event was, in a person's units."""
    told = _TOLD.get(kind)
    return told(data, show) if told else kind


def _pair(data: Data, show: Quantities) -> str:
    read = f"{show.temperature(data['temp_k'])}, {show.absolute(data['pressure_pa'])}"
    return f"Reading noted, not settled: {read}" if data.get("provisional") else f"Settled reading: {read}"


def _verdict(data: Data, _: Quantities) -> str:
    if data.get("contents_state") == "vapour-only":
        return "Verdict: no liquid left"
    finding = phrases.CONTAMINATION.get(str(data.get("contamination")), "")
    if data.get("identity") != "identified":
        return (
            f"Verdict: cannot tell yet, {data['designation']} likeliest"
            if data.get("designation")
            else "Verdict"
        )
    return f"Verdict: {data['designation']} ({percent(float(data['probability']))}), {finding}"


def _cylinder(data: Data, show: Quantities) -> str:
    change = str(data.get("change"))
    if change == "held":
        return f"Put on hold: {data.get('reason')}"
    if change == "released":
        return f"Hold released: {data.get('reason') or 'no reason given'}"
    if change == "instructed":
        return f"Asked: {data.get('text')}"
    if change == "instruction-done":
        return f"Done: {data.get('text') or 'without a word'}"
    if change == "corrected" and data.get("gross_mass_kg") is not None and len(data) == 2:
        return f"Weighed: {show.mass(float(data['gross_mass_kg']))} with the cylinder"
    if "passed" in data and change not in CHANGES:
        return f"{change.replace('-', ' ').capitalize()} {OUTCOMES[data['passed']]}".rstrip()
    return CHANGES.get(change, change.replace("-", " ").capitalize())


def _hookup(data: Data, _: Quantities) -> str:
    return "Devices hooked up" if data.get("change") == "attached" else "Devices taken off"


def _alarm(data: Data) -> str:
    return phrases.alarm(str(data.get("code")), str(data.get("text") or ""), data.get("cylinder")).rstrip(
        ": "
    )


def _transfer(data: Data, show: Quantities) -> str:
    mass, what = show.mass(float(data["mass_kg"])), data.get("designation") or "of unknown refrigerant"
    way = "Put in" if data.get("direction") == "in" else "Taken out"
    over = (
        f"; a supervisor decided otherwise: {data['override_reason']}" if data.get("override_reason") else ""
    )
    return f"{way}: {mass} {what}{over}"


def _exchange(data: Data, show: Quantities) -> str:
    net = show.mass(float(data["net_kg"]))
    return f"Handed to {data['counterparty']} against receipt {data['receipt']}, {net} net"


def _analysis(data: Data, _: Quantities) -> str:
    found = data.get("designation") or "nothing of the catalogue"
    state = {"none": "alone", "air": "with air", "shifted": "leaked", "mixed": "with another refrigerant"}
    return f"Result ({data['kind']}): {found} {state.get(str(data.get('state')), '')}".rstrip()


_TOLD: dict[str, Callable[[Data, Quantities], str]] = {
    "heelmark.pair.recorded": _pair,
    "heelmark.verdict.reached": _verdict,
    "heelmark.cylinder.changed": _cylinder,
    "heelmark.hookup.changed": _hookup,
    "heelmark.alarm.raised": lambda data, _: f"Alarm: {_alarm(data)}",
    "heelmark.alarm.cleared": lambda data, _: f"Alarm over: {_alarm(data)}",
    "heelmark.alarm.acknowledged": lambda data, _: f"Alarm seen: {_alarm(data)}",
    "heelmark.transfer.recorded": _transfer,
    "heelmark.exchange.recorded": _exchange,
    "heelmark.analysis.recorded": _analysis,
}
