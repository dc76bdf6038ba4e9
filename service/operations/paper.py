"""Paper for a cylinder: its label, its shipping description."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.cylinders.contents import UNKNOWN
from service.cylinders.filling import worst_limit
from service.cylinders.requalification import State, requalification
from service.cylinders.state import CylinderState
from service.operations import calendar, cylinders, states
from service.operations.context import Actor, Services
from service.operations.errors import FieldError, Invalid
from service.operations.knowledge import knowledge
from service.paperwork import shipping
from service.paperwork.label import LabelFacts
from service.paperwork.shipping import Form, ShippingDescription
from service.paperwork.units import Units
from service.refrigerants.catalogue import Refrigerant
from service.store import cylinders as stored
from service.store import organisations
from service.store.cylinders import Cylinder
from service.store.rulebook import load_adr_gases

MOST_LABELS = 120


@dataclass(frozen=True, slots=True)
class Paper:
    """What is printed for one cylinder."""

    label: LabelFacts
    shipping: ShippingDescription


@dataclass(frozen=True, slots=True)
class Wish:
    """How it is to be printed; ``units`` None is the owner's setting."""

    address: str
    units: Units | None = None
    colour: bool = True


@dataclass(frozen=True, slots=True)
class _Printing:
    """Whose paper, on which day, how."""

    owner: str
    on: date
    wish: Wish


def of(services: Services, actor: Actor, serial: str, wish: Wish) -> Paper:
    """Label and shipping description of a cylinder."""
    return of_many(services, actor, [serial], wish)[0]


def of_many(services: Services, actor: Actor, serials: Sequence[str], wish: Wish) -> list[Paper]:
    """Labels of several cylinders, in the order asked for."""
    if not 1 <= len(serials) <= MOST_LABELS:
        raise Invalid(FieldError("serials", len(serials), f"1 to {MOST_LABELS} serials"))
    with services.database.reading(actor.organisation_id) as work:
        owner = organisations.by_id(work.connection, actor.organisation_id)
        rows = [cylinders.by_serial(work, serial) for serial in serials]
        judged = states.of_all(services, work, rows)
        printing = _Printing(owner.name if owner else "", calendar.today(services, work), wish)
    units: Units = wish.units or ("si" if owner and owner.units == "si" else "inch-pound")
    return [_paper(services, row, state, units, printing) for row, state in zip(rows, judged, strict=True)]


def of_place(services: Services, actor: Actor, place: str, wish: Wish) -> list[Paper]:
    """Labels of every cylinder that stands at a place."""
    with services.database.reading(actor.organisation_id) as work:
        rows = [row.serial for row in stored.everything(work, place=place) if row.standing == "in-service"]
    return of_many(services, actor, rows[:MOST_LABELS], wish)


def owners_units(services: Services, actor: Actor) -> Units:
    """The owner's setting for paper."""
    with services.database.reading(actor.organisation_id) as work:
        owner = organisations.by_id(work.connection, actor.organisation_id)
    return "si" if owner and owner.units == "si" else "inch-pound"


def one_choice() -> Invalid:
    """The refusal of a query for sheets that names neither or both."""
    return Invalid(FieldError("serials", None, "either serials or place"))


def day(field: str, text: str) -> date:
    """A day of the calendar out of its ISO text."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Invalid(FieldError(field, text, "a day of the calendar such as 2026-05-04")) from error


def _paper(
    services: Services, row: Cylinder, state: CylinderState, units: Units, printing: _Printing
) -> Paper:
    description = describe(services, state, units)
    headline, kind, alert = headline_of(state)
    alert = alert or _may_be_flammable(services, state)
    known = state.known_designation
    refrigerant = services.catalogue[known] if known is not None else None
    net = 0.0 if state.contents.is_empty else state.contents.mass_kg
    limit = None if alert and not state.holds else _limit(services, state)
    due = requalification(state.marks, state.dates, on=printing.on)
    tare = row.tare_kg
    return Paper(
        LabelFacts(
            serial=row.serial,
            headline=headline,
            kind=kind,
            alert=alert,
            safety_class=_safety_class(services, state, refrigerant),
            un_number=description.un_number,
            shipping_name=description.name_in_full,
            hazard_division=description.hazard_division,
            tare_kg=tare,
            net_kg=net,
            gross_kg=None if tare is None or net is None else tare + net,
            limit_net_kg=limit,
            limit_gross_kg=None if tare is None or limit is None else tare + limit,
            requalify_by=due.due_on,
            requalification_state=str(due.state) if due.state is not State.NEVER else "never",
            marks=row.marks or "marks not recorded",
            owner=row.owner or printing.owner,
            url=f"{printing.wish.address}/cylinders/{row.serial}",
            printed_on=printing.on,
            units=units,
            colour=printing.wish.colour,
        ),
        description,
    )


def _safety_class(services: Services, state: CylinderState, single: Refrigerant | None) -> str | None:
    """The class, or what the components say of a mixture."""
    if _may_be_flammable(services, state):
        return "may be flammable"
    if single is not None:
        return single.safety_class.value
    held = state.possible
    if not held:
        return None
    worst = any(_flammable(services, name) for name in held)
    return "flammable mixture" if worst else "mixture"


def headline_of(state: CylinderState) -> tuple[str, str, bool]:
    """The large word, what stands under it, and whether it must not be overlooked."""
    contents, judged = state.contents, state.assessment
    hold = f"ON HOLD: {state.holds[0]}" if state.holds else ""
    if contents.evacuated:
        return "EMPTY", hold or "evacuated", bool(hold)
    if contents.is_mixed:
        return "MIXED", hold or f"{_shares(state)}. Nothing more in.", True
    if judged is not None and judged.contamination == "mixed":
        return (
            "MIXED",
            hold or f"by its verdict, with {' or '.join(judged.candidates[:3])}. Nothing more in.",
            True,
        )
    recorded = contents.designation
    if recorded is None and contents.is_empty:
        last = contents.last_designation
        return "EMPTY", hold or (f"residue of {last}, not evacuated" if last else "not evacuated"), bool(hold)
    known = state.known_designation
    if known is None:
        return "UNKNOWN", hold or _doubt(state), True
    air = "recovered, with air in it" if judged and judged.contamination == "air" else ""
    claim = "by its label only" if judged is None else "by its label; pressure and temperature agree"
    if contents.basis == "claim" and state.not_parted:
        return known, hold or f"by its label; may also be {' or '.join(state.not_parted[:3])}", bool(hold)
    basis = {"record": "recovered refrigerant", "claim": claim, "none": "by its verdict"}
    return known, hold or air or basis[contents.basis], bool(hold)


def describe(services: Services, state: CylinderState, units: Units) -> ShippingDescription:
    """
    How a cylinder is described on shipping papers.

    What the verdict contradicts or calls mixed is not named by its record: the n.o.s. name that fits what it may be is
    tentative (49 CFR 172.101(c)(11)). So it is where another candidate is flammable and the recorded one is not.
    """
    form = Form(units, services.catalogue, state.marks.law, load_adr_gases())
    contents, judged = state.contents, state.assessment
    if contents.evacuated:
        return shipping.evacuated(state.marks.law)
    net = contents.mass_kg
    held = (*state.possible, *state.not_parted)
    known: list[Refrigerant] = [services.catalogue[name] for name in held if name in services.catalogue]
    if contents.is_empty:
        last = contents.last_designation
        if last is None or last not in services.catalogue:
            return shipping.unknown()
        return shipping.single(services.catalogue[last], net, form=form, residue=True)
    if contents.is_mixed and UNKNOWN not in contents.shares:
        return shipping.mixture(contents.shares, known, net, form=form)
    name, mixed = state.known_designation, judged is not None and judged.contamination == "mixed"
    if name is not None and not mixed and not _may_be_flammable(services, state):
        return shipping.single(services.catalogue[name], net, form=form)
    if not known or judged is None or not judged.candidates:
        return shipping.unknown()
    even = {one.designation: 1.0 / len(known) for one in known}
    return shipping.mixture(even, known, net, form=form, tentative=True)


def _may_be_flammable(services: Services, state: CylinderState) -> bool:
    """Whether the evidence leaves a flammable refrigerant beside a known one that is not."""
    return not _flammable(services, state.known_designation) and any(
        _flammable(services, name) for name in state.not_parted
    )


def _flammable(services: Services, designation: str | None) -> bool:
    hazards = None if designation is None else knowledge(services).hazards(designation)
    return hazards is None or hazards.flammable


def _limit(services: Services, state: CylinderState) -> float | None:
    held = state.possible
    if not held or state.water_capacity_kg is None:
        return None
    return worst_limit(held, state.water_capacity_kg, knowledge(services), marks=state.marks).mass_kg


def _doubt(state: CylinderState) -> str:
    """Why the label names no refrigerant."""
    recorded, judged = state.contents.designation, state.assessment
    options = " or ".join(judged.candidates[:4]) if judged else ""
    if recorded is not None and judged is not None:
        return f"was {recorded} by its record; measured: {options or 'no known refrigerant'}"
    return f"may be {options}" if options else "not identified: nothing in or out"


def _shares(state: CylinderState) -> str:
    parts = sorted(state.contents.shares.items(), key=lambda item: -item[1])
    return ", ".join(f"{100.0 * share:.1f}\u00a0%\u00a0{name}" for name, share in parts)
