"""Queries for exchanges at the supply house."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import acceptances, cylinders, exchanges
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Exchange:
    """A cylinder handed over, with its receipt and the serial of the one that came back."""

    id: int
    cylinder_id: int
    cylinder: str
    received_cylinder: str | None
    counterparty: str
    receipt: str
    destination: str
    designation: str | None
    shares: dict[str, float]
    gross_kg: float
    net_kg: float
    occurred_at: datetime
    recorded_at: datetime
    recorded_by: str
    technician: str | None
    certification_number: str | None
    note: str | None


def _named(work: Work) -> sa.Select[Any]:
    received = cylinders.alias("received")
    joined = exchanges.join(cylinders, cylinders.c.id == exchanges.c.cylinder_id).outerjoin(
        received, received.c.id == exchanges.c.received_cylinder_id
    )
    names = (cylinders.c.serial.label("cylinder"), received.c.serial.label("received_cylinder"))
    return work.select(exchanges, *exchanges.c, *names).select_from(joined)


def insert(work: Work, **values: Any) -> int:
    """Record an exchange; answers its id."""
    return work.insert(exchanges, **values)


def by_id(work: Work, exchange_id: int) -> Exchange | None:
    """The exchange of that id."""
    return work.one(_named(work).where(exchanges.c.id == exchange_id), Exchange)


def with_receipt(work: Work, cylinder_id: int, counterparty: str, receipt: str) -> Exchange | None:
    """The exchange of a cylinder under a receipt, if it is recorded already."""
    same = (
        exchanges.c.cylinder_id == cylinder_id,
        exchanges.c.counterparty == counterparty,
        exchanges.c.receipt == receipt,
    )
    return work.one(_named(work).where(*same), Exchange)


def page(work: Work, request: PageRequest, *, serial: str | None = None) -> Page[Exchange]:
    """Exchanges, newest first."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    return fetch_page(work, statement, exchanges.c.id, Exchange, request, newest_first=True)


def awaiting(work: Work, limit: int) -> list[Exchange]:
    """Exchanges of which the receiver has not said what it accepted, newest first."""
    answered = sa.select(acceptances.c.id).where(acceptances.c.exchange_id == exchanges.c.id).exists()
    return work.all(_named(work).where(~answered).order_by(exchanges.c.id.desc()).limit(limit), Exchange)


def between(work: Work, first: datetime, before: datetime) -> list[Exchange]:
    """Exchanges of a period, oldest first."""
    period = (exchanges.c.occurred_at >= first, exchanges.c.occurred_at < before)
    ordered = _named(work).where(*period).order_by(exchanges.c.occurred_at, exchanges.c.id)
    return work.all(ordered, Exchange)
