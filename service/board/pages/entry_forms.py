"""What can be entered without coverage: each kind reads its form as its page does, and is recorded at its own time."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from service.board import session
from service.board.forms import Form
from service.board.pages.care import care_of
from service.board.pages.marks import marks_of_new
from service.board.pages.readings import mass_kg, pair_of
from service.board.pages.transfers import transfer_of
from service.board.quantities import Quantities
from service.operations import care, cylinders, entries, holds, pairs

Take = Callable[[datetime], object]


@dataclass(frozen=True, slots=True)
class Kind:
    """How its form is read, None with the form's errors, and what is said when it is recorded."""

    read: Callable[[Form, Quantities, str], Take | None]
    done: str


def _weight(form: Form, show: Quantities, serial: str) -> Take | None:
    gross_kg = mass_kg(form, show, "Weight", required=True)
    if gross_kg is None:
        return None
    services, actor = session.services(), session.actor()
    return lambda at: entries.weigh(services, actor, serial, gross_kg, at)


def _reading(form: Form, show: Quantities, serial: str) -> Take | None:
    pair = pair_of(form, show, serial)
    if pair is None:
        return None
    services, actor = session.services(), session.actor()
    return lambda at: pairs.record(services, actor, replace(pair, settled_at=at))


def _transfer(form: Form, show: Quantities, serial: str) -> Take | None:
    known_at = form.text("known_at", "Time", required=False, longest=40)
    new = transfer_of(form, show, serial)
    if new is None:
        return None
    note = f"Entered without coverage; judged by what was known at {known_at}." if known_at else None
    new = replace(new, note=note, has_happened=form.values.get("has_happened") == "yes")
    services, actor = session.services(), session.actor()
    return lambda at: entries.move(services, actor, new, at)


def _care(form: Form, show: Quantities, serial: str) -> Take | None:
    entry = care_of(form, show, serial)
    if entry is None:
        return None
    services, actor = session.services(), session.actor()
    return lambda at: care.record(services, actor, replace(entry, occurred_at=at))


def _hold(form: Form, _show: Quantities, serial: str) -> Take | None:
    reason = form.text("reason", "Why", longest=400)
    if not form.ok:
        return None
    services, actor = session.services(), session.actor()
    return lambda _at: holds.place(services, actor, serial, reason)


def _registration(form: Form, show: Quantities, serial: str) -> Take | None:
    values = marks_of_new(form, show)
    if not form.ok:
        return None
    services, actor = session.services(), session.actor()
    return lambda at: cylinders.register(services, actor, serial, values, found_at=at)


KINDS = {
    "weight": Kind(_weight, "The weight of {serial} is recorded."),
    "reading": Kind(_reading, "The reading of {serial} is recorded."),
    "transfer": Kind(_transfer, "The transfer of {serial} is recorded."),
    "care": Kind(_care, "What was done at {serial} is recorded."),
    "hold": Kind(_hold, "{serial} is on hold: nothing in or out."),
    "registration": Kind(_registration, "{serial} is registered."),
}
"""By the name that the form gives itself."""
