"""Queries for transfers."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.equipment import Equipment, StandingFound
from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, transfers
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Transfer:
    """Refrigerant in or out, with the serials of the cylinder and of the other one, if it was a move."""

    id: int
    cylinder: str
    direction: str
    designation: str | None
    shares: dict[str, float]
    mass_kg: float
    gross_after_kg: float | None
    phase: str
    epoch: int
    occurred_at: datetime
    recorded_at: datetime
    recorded_by: str
    technician: str | None
    certification_number: str | None
    equipment: Equipment | None
    standing: StandingFound | None
    other_cylinder: str | None
    overridden: list[str] | None
    override_reason: str | None
    corrects_id: int | None
    note: str | None


def _named(work: Work) -> sa.Select[Any]:
    other = cylinders.alias("other")
    joined = transfers.join(cylinders, cylinders.c.id == transfers.c.cylinder_id).outerjoin(
        other, other.c.id == transfers.c.other_cylinder_id
    )
    names = (cylinders.c.serial.label("cylinder"), other.c.serial.label("other_cylinder"))
    return work.select(transfers, *transfers.c, *names).select_from(joined)


def insert(work: Work, **values: Any) -> Transfer:
    """Record a transfer."""
    transfer_id = work.insert(transfers, **values)
    found = by_id(work, transfer_id)
    if found is None:
        raise LookupError(f"transfer {transfer_id} vanished")
    return found


def by_id(work: Work, transfer_id: int) -> Transfer | None:
    """The transfer of that id."""
    return work.one(_named(work).where(transfers.c.id == transfer_id), Transfer)


def page(work: Work, request: PageRequest, *, serial: str | None = None) -> Page[Transfer]:
    """Transfers, newest first, of one cylinder on request."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    return fetch_page(work, statement, transfers.c.id, Transfer, request, newest_first=True)


def between(work: Work, first: datetime, before: datetime) -> list[Transfer]:
    """Transfers of a period, oldest first."""
    period = (transfers.c.occurred_at >= first, transfers.c.occurred_at < before)
    return work.all(_named(work).where(*period).order_by(transfers.c.occurred_at, transfers.c.id), Transfer)


def corrected(work: Work, transfer_id: int) -> bool:
    """Whether a correction of this transfer is recorded."""
    found = work.select(transfers, transfers.c.id).where(transfers.c.corrects_id == transfer_id).limit(1)
    return work.connection.execute(found).first() is not None
