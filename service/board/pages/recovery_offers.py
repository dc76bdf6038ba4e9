"""The cylinders where a technician is that take what is to come out, the best first: he taps one instead of typing."""

from service.board import session
from service.board.forms import Form
from service.board.pages.recovery_form import SERIALS
from service.board.pages.start import my_place
from service.cylinders.judgement.state import Incoming
from service.operations import checks
from service.operations.recoveries import PROBE_KG
from service.operations.suitable import suitable
from service.operations.support.errors import Invalid
from service.store.appliances import Appliance

MOST_OFFERED = 4


def offers(form: Form, chosen: Appliance | None) -> list[tuple[str, str]]:
    """Give serial and room of those that do and are not chosen yet; none where place or refrigerant is not said."""
    services, actor, show, place = session.services(), session.actor(), session.show(), my_place()
    named = form.values.get("refrigerant", "").strip() or (chosen.designation if chosen else "")
    if not named or not place:
        return []
    try:
        designation = checks.designation_of(services, named)
    except Invalid:
        return []
    fit, _ = suitable(services, actor, Incoming(designation, PROBE_KG), place=place)
    taken = {form.values.get(name, "").strip().casefold() for name in SERIALS}
    return [
        (one.cylinder.serial, show.mass_below(one.answer.check.remaining_kg or 0.0))
        for one in fit
        if one.cylinder.serial.casefold() not in taken
    ][:MOST_OFFERED]


def used(typed: dict[str, str]) -> dict[str, str]:
    """Put the cylinder that was tapped where none is named yet; the last place where all are."""
    if not (serial := typed.pop("use", "")):
        return typed
    empty = [name for name in SERIALS if not typed.get(name, "").strip()]
    return {**typed, (empty or SERIALS[-1:])[0]: serial, "step": "check"}
