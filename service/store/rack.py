"""Queries for the rack: all cylinders with what is shown of them, in as many statements for 500 as for 1."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import alarms, cylinders, hookups, live, places, verdicts
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class RackRow:
    """A cylinder with the gist of its standing verdict."""

    id: int
    serial: str
    place: str | None
    marks: str | None
    requalification_stamp: str | None
    water_capacity_kg: float | None
    tare_kg: float | None
    gross_mass_kg: float | None
    claimed_designation: str | None
    identity: dict[str, Any] | None
    contamination_finding: str | None
    contents_finding: str | None
    disposition_code: str | None

    @property
    def net_mass_kg(self) -> float | None:
        """Contents by the last weighing [kg]."""
        if self.gross_mass_kg is None or self.tare_kg is None:
            return None
        return self.gross_mass_kg - self.tare_kg


@dataclass(frozen=True, slots=True)
class Attached:
    """An active hookup with what the worker last said of it."""

    hookup_id: int
    cylinder_id: int
    pressure_device: str
    temperature_device: str
    valve: str
    from_at: datetime
    at: datetime | None
    settling_state: str | None
    temp_k: float | None
    pressure_pa: float | None
    document: dict[str, Any] | None


def rows(work: Work, serials: Collection[str] = ()) -> list[RackRow]:
    """Every cylinder, or those of these serials, by serial."""
    joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id).outerjoin(
        verdicts, verdicts.c.id == cylinders.c.verdict_id
    )
    gist = (verdicts.c.contamination_finding, verdicts.c.contents_finding, verdicts.c.disposition_code)
    identity = verdicts.c.document["identity"].label("identity")
    statement = work.select(cylinders, *cylinders.c, places.c.name.label("place"), identity, *gist)
    statement = statement.select_from(joined).order_by(cylinders.c.serial)
    if serials:
        statement = statement.where(cylinders.c.serial.in_(serials))
    return work.all(statement, RackRow)


def attached(work: Work, cylinder_ids: Collection[int] | None = None) -> dict[int, Attached]:
    """The newest active hookup of each cylinder that has one."""
    joined = hookups.outerjoin(live, live.c.hookup_id == hookups.c.id)
    said = (live.c.at, live.c.settling_state, live.c.temp_k, live.c.pressure_pa, live.c.document)
    statement = work.select(hookups, hookups.c.id.label("hookup_id"), *hookups.c, *said)
    statement = statement.select_from(joined).where(hookups.c.to_at.is_(None)).order_by(hookups.c.id)
    if cylinder_ids is not None:
        statement = statement.where(hookups.c.cylinder_id.in_(cylinder_ids))
    return {row.cylinder_id: row for row in work.all(statement, Attached)}


def serials(work: Work) -> list[str]:
    """Every serial, for completing what somebody types."""
    found = work.select(cylinders, cylinders.c.serial).order_by(cylinders.c.serial)
    return [str(serial) for serial in work.connection.execute(found).scalars()]


def place_names(work: Work) -> list[str]:
    """Every place, by name."""
    found = sa.select(places.c.name).where(places.c.organisation_id == work.organisation_id)
    return [str(name) for name in work.connection.execute(found.order_by(places.c.name)).scalars()]


def unseen_alarms(work: Work) -> int:
    """How many alarms stand that nobody has acknowledged."""
    unseen = (alarms.c.cleared_at.is_(None), alarms.c.acknowledged_at.is_(None))
    return int(work.connection.execute(work.select(alarms, sa.func.count()).where(*unseen)).scalar_one())
