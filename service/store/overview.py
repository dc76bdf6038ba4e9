"""Queries for the rack: what is shown of all cylinders, in as many statements for 500 as for one."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.codes import Standing
from service.cylinders.plausibility import serial_key
from service.store.tables import alarms, cylinders, hookups, instructions, live, places
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Attached:
    """An active hookup with what the worker last said of it."""

    hookup_id: int
    cylinder_id: int
    pressure_device: str
    temperature_device: str
    valve: str
    from_at: datetime
    recorded_at: datetime | None
    at: datetime | None
    received_at: datetime | None
    settling_state: str | None
    temp_k: float | None
    pressure_pa: float | None
    document: dict[str, Any] | None
    elevation_m: float | None


def ids_of(work: Work, serials: Collection[str]) -> list[int]:
    """Ids of the cylinders of these serials, typed in whatever case."""
    keys = {serial_key(serial) for serial in serials}
    found = work.select(cylinders, cylinders.c.id).where(cylinders.c.serial_key.in_(keys))
    return [int(cylinder_id) for cylinder_id in work.connection.execute(found).scalars()]


def attached(work: Work, cylinder_ids: Collection[int] | None = None) -> dict[int, Attached]:
    """The active hookup of each cylinder that was heard last; of all cylinders unless some are named."""
    joined = hookups.outerjoin(live, live.c.hookup_id == hookups.c.id).join(
        places, places.c.id == hookups.c.place_id
    )
    said = (
        live.c.at, live.c.received_at, live.c.settling_state, live.c.temp_k, live.c.pressure_pa, live.c.document,
        places.c.elevation_m,
    )  # fmt: skip
    statement = work.select(hookups, hookups.c.id.label("hookup_id"), *hookups.c, *said)
    statement = statement.select_from(joined).where(hookups.c.to_at.is_(None))
    statement = statement.order_by(live.c.at.is_not(None), live.c.at, hookups.c.id)
    if cylinder_ids is not None:
        statement = statement.where(hookups.c.cylinder_id.in_(cylinder_ids))
    return {row.cylinder_id: row for row in work.all(statement, Attached)}


OFFERED = 200
"""So many serials complete what somebody types: those last handled. More would be a page of nothing else."""


def serials(work: Work) -> list[str]:
    """Serials for completing what somebody types: those last handled, in their order."""
    found = work.select(cylinders, cylinders.c.serial).where(cylinders.c.standing == Standing.IN_SERVICE)
    last = found.order_by(cylinders.c.updated_at.desc(), cylinders.c.id.desc()).limit(OFFERED)
    return sorted(str(serial) for serial in work.connection.execute(last).scalars())


def place_names(work: Work) -> list[str]:
    """Every place, by name."""
    found = work.select(places, places.c.name).order_by(places.c.name)
    return [str(name) for name in work.connection.execute(found).scalars()]


@dataclass(frozen=True, slots=True)
class Waiting:
    """How many alarms nobody has acknowledged, and how many instructions wait."""

    alarms: int
    instructions: int


def waiting(work: Work) -> Waiting:
    """What waits for somebody, counted in one statement: every page asks it."""
    unseen = (alarms.c.cleared_at.is_(None), alarms.c.acknowledged_at.is_(None))
    counted = sa.select(
        work.select(alarms, sa.func.count()).where(*unseen).scalar_subquery(),
        work.select(instructions, sa.func.count()).where(instructions.c.done_at.is_(None)).scalar_subquery(),
    )
    return Waiting(*map(int, work.connection.execute(counted).one()))
