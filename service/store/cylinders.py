"""Queries for cylinders and the epochs of their contents."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any

import sqlalchemy as sa

from service.cylinders.plausibility import serial_key
from service.store import summaries
from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, epochs, places
from service.store.work import NewEvent, Work, as_record


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A cylinder as registered, with the name of its place and the present epoch of its contents."""

    id: int
    serial: str
    place: str | None
    place_rule_book: str | None
    marks: str | None
    requalification_stamp: str | None
    water_capacity_kg: float | None
    tare_kg: float | None
    valves: list[str] | None
    owner: str | None
    notes: str | None
    claimed_designation: str | None
    flammable_marked: bool
    standing: str
    requalification_condition: str | None
    requalification_statement: str | None
    requalify_by: date | None
    service_life_ends: date | None
    owner_consents: bool | None
    gross_mass_kg: float | None
    gross_mass_at: datetime | None
    epoch: int
    verdict_id: int | None
    version: int
    created_at: datetime
    updated_at: datetime

    @property
    def net_mass_kg(self) -> float | None:
        """Contents by the last weighing [kg]."""
        if self.gross_mass_kg is None or self.tare_kg is None:
            return None
        return self.gross_mass_kg - self.tare_kg


CYLINDER_STATE = "heelmark.cylinder.state"
"""Event: a cylinder as it is at the end of a transaction that wrote it; what a mirror keeps."""
UNTOLD = frozenset({"id", "place_rule_book", "verdict_id"})
"""Columns that are the service's own; a verdict has an event of its own."""


def state_of(cylinder: Cylinder) -> dict[str, Any]:
    """A cylinder as its event tells it: SI, moments and days as text, numbers rounded as the interface rounds them."""
    told = {name: getattr(cylinder, name) for name in Cylinder.__dataclass_fields__ if name not in UNTOLD}
    told["net_mass_kg"] = cylinder.net_mass_kg
    return {name: _as_told(value) for name, value in told.items()}


def _as_told(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, float):
        return round(value, 6)
    return value.isoformat() if isinstance(value, date) else value


def _state_event(cylinder_id: int, work: Work, actor: str) -> NewEvent | None:
    cylinder = by_id(work, cylinder_id)
    if cylinder is None:
        return None
    subject, state = f"cylinders/{cylinder.serial}", state_of(cylinder)
    return NewEvent(cylinder.updated_at, CYLINDER_STATE, subject, actor, state)


@dataclass(frozen=True, slots=True)
class Epoch:
    """The time since something was last put into a cylinder, or it was emptied."""

    number: int
    started_at: datetime
    cause: str
    contents: dict[str, Any] | None


def _with_place(work: Work) -> sa.Select[Any]:
    joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id)
    return work.select(
        cylinders, *cylinders.c, places.c.name.label("place"), places.c.rule_book.label("place_rule_book")
    ).select_from(joined)


def by_serial(work: Work, serial: str, *, lock: bool = False) -> Cylinder | None:
    """
    The cylinder of that serial.

    Parameters
    ----------
    work
        The open transaction.
    serial
        As stamped, or as somebody types it: case and surrounding spaces make no difference.
    lock
        Keep others from changing it until the commit; a use case that decides on what it reads asks for it.

    Returns
    -------
    Cylinder or None
        None when the organisation has no such cylinder.
    """
    alike = _with_place(work).where(cylinders.c.serial_key == serial_key(serial))
    statement = alike.order_by((cylinders.c.serial == serial).desc(), cylinders.c.id).limit(1)
    return work.one(statement.with_for_update(of=cylinders) if lock else statement, Cylinder)


def by_id(work: Work, cylinder_id: int, *, lock: bool = False) -> Cylinder | None:
    """The cylinder of that id; ``lock`` as in ``by_serial``."""
    statement = _with_place(work).where(cylinders.c.id == cylinder_id)
    return work.one(statement.with_for_update(of=cylinders) if lock else statement, Cylinder)


def by_ids(work: Work, cylinder_ids: Collection[int]) -> list[Cylinder]:
    """These cylinders, in the order of their ids."""
    if not cylinder_ids:
        return []
    statement = _with_place(work).where(cylinders.c.id.in_(cylinder_ids)).order_by(cylinders.c.id)
    return work.all(statement, Cylinder)


def not_in_hand(work: Work, cylinder_ids: Collection[int]) -> list[Cylinder]:
    """Those of these cylinders that nobody else is changing just now, locked, in the order of their ids."""
    if not cylinder_ids:
        return []
    statement = _with_place(work).where(cylinders.c.id.in_(cylinder_ids)).order_by(cylinders.c.id)
    return work.all(statement.with_for_update(of=cylinders, skip_locked=True), Cylinder)


def page(
    work: Work,
    request: PageRequest,
    *,
    place: str | None = None,
    designation: str | None = None,
    updated_since: datetime | None = None,
    at_places: Collection[str] | None = None,
) -> Page[Cylinder]:
    """Cylinders in the order of their registration; ``at_places`` leaves out those elsewhere."""
    statement = _with_place(work)
    if at_places is not None:
        statement = statement.where(places.c.name.in_(at_places))
    if place is not None:
        statement = statement.where(places.c.name == place)
    if designation is not None:
        statement = statement.where(cylinders.c.claimed_designation == designation)
    if updated_since is not None:
        statement = statement.where(cylinders.c.updated_at >= updated_since)
    return fetch_page(work, statement, cylinders.c.id, Cylinder, request)


def insert(work: Work, *, at: datetime, found_at: datetime | None = None, **values: Any) -> int:
    """A new cylinder in its first epoch, which began when it was found; answers its id."""
    key = serial_key(values["serial"])
    cylinder_id = work.insert(
        cylinders, serial_key=key, created_at=at, updated_at=at, epoch=1, version=1, **values
    )
    began = found_at or at
    work.insert(
        epochs, cylinder_id=cylinder_id, number=1, started_at=began, cause="registered", contents=None
    )
    _tell_state(work, cylinder_id)
    return cylinder_id


def change(work: Work, cylinder: Cylinder, *, at: datetime, **values: Any) -> None:
    """Change columns of a cylinder that was read with ``lock``; its version rises."""
    work.update(
        cylinders, cylinders.c.id == cylinder.id, updated_at=at, version=cylinders.c.version + 1, **values
    )
    summaries.forget(work, [cylinder.id])
    _tell_state(work, cylinder.id)


def _tell_state(work: Work, cylinder_id: int) -> None:
    work.tell_at_commit((CYLINDER_STATE, cylinder_id), partial(_state_event, cylinder_id))


def set_verdict(work: Work, cylinder_id: int, verdict_id: int) -> None:
    """Point at the newest verdict; the cylinder's own representation does not change by it."""
    work.update(cylinders, cylinders.c.id == cylinder_id, verdict_id=verdict_id)
    summaries.forget(work, [cylinder_id])


def open_epoch(
    work: Work, cylinder: Cylinder, *, at: datetime, cause: str, contents: dict[str, Any] | None
) -> int:
    """Begin a new epoch of a cylinder that was read with ``lock``: older pairs no longer speak."""
    number = cylinder.epoch + 1
    work.insert(epochs, cylinder_id=cylinder.id, number=number, started_at=at, cause=cause, contents=contents)
    change(work, cylinder, at=at, epoch=number, verdict_id=None)
    return number


def set_contents(work: Work, cylinder: Cylinder, contents: dict[str, Any]) -> None:
    """Correct what the present epoch is reckoned to hold, after something came out or it was weighed."""
    present = (epochs.c.cylinder_id == cylinder.id, epochs.c.number == cylinder.epoch)
    work.update(epochs, *present, contents=contents)
    summaries.forget(work, [cylinder.id])


def epoch_at(work: Work, cylinder: Cylinder, moment: datetime) -> Epoch:
    """The epoch that a moment belongs to; what came before the registration belongs to the first."""
    begun = work.select(epochs).where(epochs.c.cylinder_id == cylinder.id)
    begun = begun.where((epochs.c.started_at <= moment) | (epochs.c.number == 1))
    found = work.one(begun.order_by(epochs.c.number.desc()).limit(1), Epoch)
    if found is None:
        raise LookupError(f"cylinder {cylinder.serial} has no epoch")
    return found


def present_epochs(work: Work, cylinder_ids: Collection[int]) -> dict[int, Epoch]:
    """The present epoch of each of these cylinders, by cylinder."""
    joined = epochs.join(
        cylinders, (cylinders.c.id == epochs.c.cylinder_id) & (cylinders.c.epoch == epochs.c.number)
    )
    statement = work.select(epochs).select_from(joined).where(epochs.c.cylinder_id.in_(cylinder_ids))
    rows = work.connection.execute(statement).mappings()
    return {row["cylinder_id"]: as_record(row, Epoch) for row in rows}


def everything(work: Work, *, place: str | None = None) -> list[Cylinder]:
    """Every cylinder of the organisation, or of one place, by serial."""
    statement = _with_place(work).order_by(cylinders.c.serial)
    return work.all(statement if place is None else statement.where(places.c.name == place), Cylinder)


def emptied_since(work: Work, cylinder: Cylinder, number: int) -> bool:
    """Whether the cylinder was emptied or evacuated in an epoch after this one."""
    causes = ("emptied", "evacuated", "received-evacuated")
    found = work.select(epochs, epochs.c.id).where(
        epochs.c.cylinder_id == cylinder.id, epochs.c.number > number, epochs.c.cause.in_(causes)
    )
    return work.connection.execute(found.limit(1)).first() is not None


def epoch_of(work: Work, cylinder: Cylinder, number: int) -> Epoch:
    """When and why the contents of an epoch began."""
    statement = work.select(epochs).where(epochs.c.cylinder_id == cylinder.id, epochs.c.number == number)
    epoch = work.one(statement, Epoch)
    if epoch is None:
        raise LookupError(f"cylinder {cylinder.serial} has no epoch {number}")
    return epoch
