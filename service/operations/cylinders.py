"""Use cases for cylinders: registering, reading, correcting."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Required, TypedDict, cast

from service.cylinders.contents import Contents
from service.cylinders.markings import read_marks
from service.cylinders.requalification_stamp import (
    BadStamp,
    FutureStamp,
    read_stamp,
    read_tare_kg,
    read_water_capacity_kg,
    stamp_within,
    unread_quantity,
)
from service.operations import places
from service.operations.support import calendar, contents, doubts, judgements
from service.operations.support.attention import review
from service.operations.support.beliefs import Kept, kept, with_kept
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, Reason, StaleVersion
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.support.lookup import by_serial
from service.refrigerants.catalogue import UnknownRefrigerant
from service.store import cylinders
from service.store import places as stored_places
from service.store.cylinders import Cylinder
from service.store.paging import Page, PageRequest
from service.store.work import Work


class CylinderFields(TypedDict, total=False):
    """What may be said of a cylinder; what is left out stays as it is, None takes a value back."""

    place: str | None
    marks: str | None
    requalification_stamp: str | None
    water_capacity_kg: float | None
    tare_kg: float | None
    gross_mass_kg: float | None
    valves: Sequence[str] | None
    owner: str | None
    owner_consents: bool | None
    flammable_marked: bool
    requalification_condition: str | None
    requalification_statement: str | None
    requalify_by: date | None
    service_life_ends: date | None
    notes: str | None
    claimed_designation: str | None
    confirmed: bool
    evacuated: bool


class NewCylinder(CylinderFields):
    """The same, of a cylinder to register."""

    serial: Required[str]


STAMPED = frozenset({"marks", "water_capacity_kg", "tare_kg", "gross_mass_kg"})
"""What has to be plausible together."""


def register(
    services: Services,
    actor: Actor,
    serial: str,
    values: CylinderFields,
    *,
    found_at: datetime | None = None,
) -> Cylinder:
    """
    Take a cylinder into the fleet, by its serial alone if nothing else is known.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    serial
        As stamped; unique in the organisation.
    values
        Stamped marks and what the label says; ``place`` by name.
    found_at
        When somebody stood before it and weighed it; now unless stated.

    Returns
    -------
    Cylinder
        As registered.

    Raises
    ------
    Conflict
        When the serial is registered already, in whatever case; when figures are not plausible and nobody has
        ``confirmed`` them.
    Invalid
        When a value makes no sense.
    """
    serial = serial.strip()
    doubts.usable(serial)
    with services.database.writing(actor.organisation_id) as work:
        at = services.now()
        known = cylinders.by_serial(work, serial)
        if known is not None:
            raise Conflict([Reason("serial-exists", f"Cylinder {known.serial} is registered already.")])
        columns = _columns(services, work, values)
        evacuated, confirmed = columns.pop("evacuated", False), columns.pop("confirmed", False)
        law = _law(work, columns, None)
        _sound(columns, calendar.local_date(work, at), law)
        if not confirmed:
            claimed = columns.get("claimed_designation")
            marks = read_marks(columns.get("marks"), law=law)
            doubts.ask_back(services, marks, columns, [claimed] if claimed else [])
        if columns.get("gross_mass_kg") is not None:
            columns["gross_mass_at"] = found_at or at
        cylinder_id = cylinders.insert(work, at=at, found_at=found_at, serial=serial, **columns)
        claim = columns.get("claimed_designation")
        document = with_kept({}, Kept((claim,) if claim else ()))
        if evacuated:
            document = contents.document_of(Contents(mass_kg=0.0).evacuate(), found_at or at)
        cylinders.set_contents(work, by_serial(work, serial), document)
        told = {"change": "registered", **_plain(values)}
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
        review(services, work, actor, at, [cylinder_id])
        return by_serial(work, serial)


def besides_serial(new: NewCylinder) -> CylinderFields:
    """What is known of a new cylinder besides its serial."""
    return cast("CylinderFields", {name: value for name, value in new.items() if name != "serial"})


def read(services: Services, actor: Actor, serial: str) -> Cylinder:
    """One cylinder."""
    with services.database.reading(actor.organisation_id) as work:
        return by_serial(work, serial)


def listed(
    services: Services,
    actor: Actor,
    request: PageRequest,
    *,
    place: str | None,
    designation: str | None,
    updated_since: datetime | None = None,
) -> Page[Cylinder]:
    """Cylinders, of one place, of one claimed designation, or changed since a moment, on request."""
    with services.database.reading(actor.organisation_id) as work:
        return cylinders.page(
            work,
            request,
            place=place,
            designation=designation,
            updated_since=updated_since,
            at_places=actor.places,
        )


def correct(
    services: Services,
    actor: Actor,
    serial: str,
    changes: CylinderFields,
    fresh: Callable[[Cylinder], bool],
    *,
    weighed_at: datetime | None = None,
) -> Cylinder:
    """
    Correct what is known of a cylinder.

    Parameters
    ----------
    services, actor, serial
        What may be used, who asks, which cylinder.
    changes
        What is to be otherwise; the rest stays.
    fresh
        Whether the row is still what the caller had read.
    weighed_at
        When the scale showed the weight among the changes; now unless stated.

    Returns
    -------
    Cylinder
        As it is now.

    Raises
    ------
    StaleVersion
        When somebody changed it since.
    Invalid
        When the cylinder would make no sense.
    Conflict
        When figures are not plausible and nobody has ``confirmed`` them.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, serial, lock=True)
        at = services.now()
        if not fresh(cylinder):
            raise StaleVersion("cylinder", serial)
        columns = _columns(services, work, changes)
        confirmed = columns.pop("confirmed", False)
        law = _law(work, columns, cylinder)
        _sound({**_present(cylinder), **columns}, calendar.local_date(work, at), law)
        if not confirmed and STAMPED & set(columns):
            after = {**_present(cylinder), **columns}
            belief = judgements.of(services, work, cylinder).judgement.belief
            doubts.ask_back(services, read_marks(after["marks"], law=law), after, belief.believable)
        if "gross_mass_kg" in columns:
            columns["gross_mass_at"] = None if columns["gross_mass_kg"] is None else weighed_at or at
            contents.keep_baseline(work, cylinder)
        _claim(work, cylinder, columns)
        cylinders.change(work, cylinder, at=at, **columns)
        tell(
            work,
            actor,
            at,
            CYLINDER_CHANGED,
            f"cylinders/{serial}",
            {"change": "corrected", **_plain(changes)},
        )
        review(services, work, actor, at, [cylinder.id])
        return by_serial(work, serial)


def _present(cylinder: Cylinder) -> dict[str, Any]:
    return {name: getattr(cylinder, name) for name in STAMPED}


def _claim(work: Work, cylinder: Cylinder, columns: Mapping[str, Any]) -> None:
    """
    Keep what a label says of contents that nobody has measured, beside what it said before.

    Once something was measured or recorded, another word on the label is only a word on the label.
    """
    claim = columns.get("claimed_designation")
    epoch = cylinders.epoch_of(work, cylinder, cylinder.epoch)
    what, document = kept(cylinder, epoch), epoch.contents or {}
    known = cylinder.verdict_id is not None or what.carried is not None or document.get("basis") == "record"
    if claim is None or claim in what.claims or known:
        return
    what = replace(what, claims=(*what.claims, claim))
    cylinders.set_contents(work, cylinder, with_kept(document, what))


def designation(services: Services, text: str) -> str:
    """What a label says, as the catalogue writes it; Invalid when it knows nothing of the kind."""
    try:
        return services.catalogue.normalise(text)
    except UnknownRefrigerant as error:
        raise Invalid(FieldError("claimed_designation", text, "a designation such as R-410A")) from error


def _plain(values: CylinderFields) -> Mapping[str, Any]:
    """Values as the event's data: days as text."""
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in values.items()}


def _columns(services: Services, work: Work, values: CylinderFields) -> dict[str, Any]:
    """The values as columns: place by id, designation as the catalogue writes it."""
    columns: dict[str, Any] = {**values}
    if "place" in columns:
        place = columns.pop("place")
        columns["place_id"] = None if place is None else places.named(work, place).id
    _read_off(columns)
    claimed = columns.get("claimed_designation")
    if claimed is not None:
        columns["claimed_designation"] = designation(services, claimed)
    return columns


def _read_off(columns: dict[str, Any]) -> None:
    """Take capacity, tare and stamp out of a line that holds all the marks, where they are not given apart."""
    line = columns.get("marks")
    if not line:
        return
    metric = read_marks(line).standard == "ISO"
    found = {
        "water_capacity_kg": read_water_capacity_kg(line, default_unit="L" if metric else "LB"),
        "tare_kg": read_tare_kg(line, default_unit="KG" if metric else "LB"),
        "requalification_stamp": stamp_within(line),
    }
    for name, value in found.items():
        if value is not None and columns.get(name) is None:
            columns[name] = value
    for name in ("water_capacity_kg", "tare_kg"):
        unread = unread_quantity(line, name)
        if unread is not None and columns.get(name) is None:
            raise Invalid(FieldError("marks", unread, f"the unit LB, KG or L, or {name} beside the marks"))


def _law(work: Work, columns: Mapping[str, Any], present: Cylinder | None) -> str:
    """The rule book of the place where it stands, or is about to."""
    if "place_id" in columns and columns["place_id"] is not None:
        place = stored_places.by_id(work, columns["place_id"])
        return places.law_of(work, place.rule_book if place else None)
    return places.law_of(work, present.place_rule_book if present else None)


def _sound(columns: Mapping[str, Any], today: date, law: str) -> None:
    stamp = columns.get("requalification_stamp")
    if stamp is not None:
        try:
            read_stamp(stamp, on=today, law=law)
        except FutureStamp as error:
            raise Invalid(FieldError("requalification_stamp", stamp, error.expected)) from error
        except BadStamp:
            pass  # kept as typed; whatever needs a date refuses and says why
    if columns.get("requalification_condition") and not columns.get("requalification_statement"):
        expected = "the owner's statement in words, on which a longer period rests"
        raise Invalid(FieldError("requalification_statement", None, expected))
    tare, gross = columns.get("tare_kg"), columns.get("gross_mass_kg")
    if tare is not None and gross is not None and tare > gross:
        raise Invalid(FieldError.mass("tare_kg", tare, "at most the gross mass", gross))
