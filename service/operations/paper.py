"""Paper for a cylinder: its label, its shipping description."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.codes import Standing
from service.cylinders.requalification import State
from service.operations.support import calendar, judgements
from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.judgements import Judged
from service.operations.support.lookup import by_serial
from service.paperwork import wording
from service.paperwork.label import LabelFacts
from service.paperwork.shipping import Form, ShippingDescription
from service.paperwork.units import Units
from service.store import cylinders as stored
from service.store import organisations
from service.store.work import Work

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
    units: Units
    on: date
    wish: Wish


def _printing(services: Services, work: Work, wish: Wish) -> _Printing:
    owner = organisations.by_id(work.connection, work.organisation_id)
    units: Units = wish.units or ("si" if owner and owner.units == "si" else "inch-pound")
    return _Printing(owner.name if owner else "", units, calendar.today(services, work), wish)


def of(services: Services, actor: Actor, serial: str, wish: Wish) -> Paper:
    """Label and shipping description of a cylinder."""
    return of_many(services, actor, [serial], wish)[0]


def of_many(services: Services, actor: Actor, serials: Sequence[str], wish: Wish) -> list[Paper]:
    """Labels of several cylinders, in the order asked for."""
    if not 1 <= len(serials) <= MOST_LABELS:
        raise Invalid(FieldError("serials", len(serials), f"1 to {MOST_LABELS} serials"))
    with services.database.reading(actor.organisation_id) as work:
        rows = [by_serial(work, serial) for serial in serials]
        judged = judgements.of_all(services, work, rows)
        printing = _printing(services, work, wish)
    return [_paper(services, one, printing) for one in judged]


def of_judged(services: Services, actor: Actor, one: Judged, wish: Wish) -> Paper:
    """The same for a cylinder that was judged already: a page's label says what the page says."""
    with services.database.reading(actor.organisation_id) as work:
        printing = _printing(services, work, wish)
    return _paper(services, one, printing)


def of_place(services: Services, actor: Actor, place: str, wish: Wish) -> list[Paper]:
    """Labels of every cylinder that stands at a place."""
    with services.database.reading(actor.organisation_id) as work:
        rows = [
            row.serial for row in stored.everything(work, place=place) if row.standing == Standing.IN_SERVICE
        ]
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


def _paper(services: Services, one: Judged, printing: _Printing) -> Paper:
    row, judgement = one.row, one.judgement
    form = Form(printing.units, services.catalogue, judgement.state.marks.law, services.knowledge.adr_gases)
    description = wording.describe(judgement, form)
    due, tare, net = judgement.requalification, row.tare_kg, judgement.state.net_mass_kg
    limit = None if judgement.name.form in ("mixed", "unknown") else judgement.filling.limit_kg
    return Paper(
        LabelFacts(
            serial=row.serial,
            headline=wording.headline(judgement),
            kind=wording.under_headline(judgement),
            alert=wording.must_not_be_overlooked(judgement),
            safety_class=wording.safety_class(judgement, services.catalogue),
            hazards=wording.hazards(judgement),
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
            units=printing.units,
            colour=printing.wish.colour,
        ),
        description,
    )
