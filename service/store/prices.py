"""Queries for the owner's prices."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from service.store.tables import prices
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class StoredPrice:
    """The owner's prices for one designation."""

    id: int
    designation: str
    credit_per_kg: Decimal
    charge_per_kg: Decimal
    currency: str
    version: int
    updated_at: datetime
    updated_by: str


def listed(work: Work) -> list[StoredPrice]:
    """Every price, by designation."""
    return work.all(work.select(prices).order_by(prices.c.designation), StoredPrice)


def of(work: Work, designation: str, *, lock: bool = False) -> StoredPrice | None:
    """The price of one designation; ``lock`` keeps others from changing it until the commit."""
    statement = work.select(prices).where(prices.c.designation == designation)
    return work.one(statement.with_for_update() if lock else statement, StoredPrice)


def put(
    work: Work, designation: str, *, credit: Decimal, charge: Decimal, currency: str, at: datetime, by: str
) -> None:
    """Set the price of a designation."""
    values = {
        "credit_per_kg": credit,
        "charge_per_kg": charge,
        "currency": currency,
        "updated_at": at,
        "updated_by": by,
    }
    same = prices.c.designation == designation
    if not work.update(prices, same, version=prices.c.version + 1, **values):
        work.insert(prices, designation=designation, **values)


def remove(work: Work, designation: str) -> bool:
    """Take a price out; whether there was one."""
    return work.delete(prices, prices.c.designation == designation) > 0
