"""Queries for reclaimers and for what they say of an exchange."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.store.tables import acceptances, reclaimers
from service.store.work import Work, batched


@dataclass(frozen=True, slots=True)
class Reclaimer:
    """A reclaimer or destruction facility."""

    id: int
    name: str
    address: str
    certification_number: str | None
    updated_at: datetime
    updated_by: str


@dataclass(frozen=True, slots=True)
class Acceptance:
    """What the receiver weighed and under which lot."""

    id: int
    exchange_id: int
    net_kg: float
    lot: str | None
    accepted_at: datetime
    recorded_at: datetime
    recorded_by: str
    note: str | None


def listed(work: Work) -> list[Reclaimer]:
    """Every reclaimer, by name."""
    return work.all(work.select(reclaimers).order_by(reclaimers.c.name), Reclaimer)


def by_name(work: Work, name: str) -> Reclaimer | None:
    """The reclaimer of that name."""
    return work.one(work.select(reclaimers).where(reclaimers.c.name == name), Reclaimer)


def put(work: Work, name: str, **values: Any) -> None:
    """Write what is known of a reclaimer."""
    if not work.update(reclaimers, reclaimers.c.name == name, **values):
        work.insert(reclaimers, name=name, **values)


def accept(work: Work, **values: Any) -> None:
    """Record an acceptance."""
    work.insert(acceptances, **values)


def acceptance_of(work: Work, exchange_id: int) -> Acceptance | None:
    """The acceptance of one exchange."""
    return work.one(work.select(acceptances).where(acceptances.c.exchange_id == exchange_id), Acceptance)


def acceptances_of(work: Work, exchange_ids: Collection[int]) -> dict[int, Acceptance]:
    """Acceptances by exchange."""
    found: dict[int, Acceptance] = {}
    for some in batched(sorted(exchange_ids)):
        statement = work.select(acceptances).where(acceptances.c.exchange_id.in_(some))
        found |= {one.exchange_id: one for one in work.all(statement, Acceptance)}
    return found
