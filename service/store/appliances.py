"""Queries for appliances and what was done about their leaks."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.store.equipment import Equipment
from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import appliance_works, appliances, transfers
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Appliance:
    """Equipment with its full charge [kg]."""

    id: int
    owner: str
    location: str
    name: str
    circuit: str
    designation: str
    full_charge_kg: float
    kind: str
    leak_method: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class ApplianceWork:
    """An inspection, a repair or a verification."""

    id: int
    appliance_id: int
    kind: str
    passed: bool | None
    technician: str | None
    note: str | None
    occurred_at: datetime
    recorded_at: datetime
    recorded_by: str


@dataclass(frozen=True, slots=True)
class Charged:
    """Refrigerant that went into some equipment [kg]."""

    occurred_at: datetime
    mass_kg: float
    equipment: Equipment


def page(work: Work, request: PageRequest) -> Page[Appliance]:
    """Appliances in the order they were registered."""
    return fetch_page(work, work.select(appliances), appliances.c.id, Appliance, request)


def by_id(work: Work, appliance_id: int) -> Appliance | None:
    """The appliance of that id."""
    return work.one(work.select(appliances).where(appliances.c.id == appliance_id), Appliance)


def same(work: Work, owner: str, location: str, name: str, circuit: str) -> Appliance | None:
    """The appliance that is named so."""
    named = (
        appliances.c.owner == owner,
        appliances.c.location == location,
        appliances.c.name == name,
        appliances.c.circuit == circuit,
    )
    return work.one(work.select(appliances).where(*named), Appliance)


def insert(work: Work, **values: Any) -> int:
    """Register an appliance; answers its id."""
    return work.insert(appliances, **values)


def add_work(work: Work, **values: Any) -> int:
    """Record what was done; answers its id."""
    return work.insert(appliance_works, **values)


def works_of(work: Work, appliance_id: int) -> list[ApplianceWork]:
    """What was done on an appliance, oldest first."""
    statement = work.select(appliance_works).where(appliance_works.c.appliance_id == appliance_id)
    return work.all(statement.order_by(appliance_works.c.occurred_at, appliance_works.c.id), ApplianceWork)


def everything(work: Work) -> list[Appliance]:
    """Every appliance."""
    return work.all(work.select(appliances).order_by(appliances.c.id), Appliance)


def works(work: Work) -> dict[int, list[ApplianceWork]]:
    """What was done on every appliance, oldest first, by appliance."""
    found: dict[int, list[ApplianceWork]] = {}
    statement = work.select(appliance_works).order_by(appliance_works.c.occurred_at, appliance_works.c.id)
    for one in work.all(statement, ApplianceWork):
        found.setdefault(one.appliance_id, []).append(one)
    return found


def charged(work: Work) -> list[Charged]:
    """Every transfer out into equipment that is named, oldest first; corrections are entries of their own."""
    columns = (transfers.c.occurred_at, transfers.c.mass_kg, transfers.c.equipment)
    statement = work.select(transfers, *columns).where(
        transfers.c.direction == "out",
        transfers.c.equipment.is_not(None),
        transfers.c.other_cylinder_id.is_(None),
    )
    rows = work.connection.execute(statement.order_by(transfers.c.occurred_at, transfers.c.id)).mappings()
    return [Charged(**row) for row in rows if row["equipment"]]
