"""Queries for recoveries and the cylinders that each fills."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from service.store.equipment import Equipment
from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, recoveries, recovery_fills, transfers
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Recovery:
    """A recovery out of one piece of equipment; ``ending`` says how it ended, None while it goes on."""

    id: int
    designation: str | None
    expected_kg: float | None
    phase: str
    equipment: Equipment
    standing: dict[str, Any] | None
    machine_made_on: date | None
    small_appliance: bool
    compressor_runs: bool
    technician: str | None
    certification_number: str | None
    occurred_at: datetime
    recorded_by: str
    ended_at: datetime | None
    ended_by: str | None
    ending: dict[str, Any] | None
    method: str | None
    vacuum_readings: list[dict[str, Any]] | None

    @property
    def mode(self) -> str:
        """How it is done: ``liquid``, ``vapour`` or ``push-pull``."""
        return self.method or self.phase


@dataclass(frozen=True, slots=True)
class Fill:
    """One cylinder of a recovery: planned, under way, or done with its transfer [kg]."""

    id: int
    recovery_id: int
    cylinder_id: int
    cylinder: str
    room_kg: float
    gross_before_kg: float | None
    target_gross_kg: float
    begun_at: datetime | None
    ended_at: datetime | None
    transfer_id: int | None
    mass_kg: float | None

    @property
    def over_kg(self) -> float:
        """By how much its gross mass after it passed the limit [kg]."""
        if self.mass_kg is None or self.gross_before_kg is None:
            return 0.0
        return max(0.0, self.gross_before_kg + self.mass_kg - self.target_gross_kg)


def page(work: Work, request: PageRequest, *, open_only: bool) -> Page[Recovery]:
    """Recoveries, newest first; only those that go on, on request."""
    statement = work.select(recoveries)
    if open_only:
        statement = statement.where(recoveries.c.ended_at.is_(None))
    return fetch_page(work, statement, recoveries.c.id, Recovery, request, newest_first=True)


def by_id(work: Work, recovery_id: int, *, lock: bool = False) -> Recovery | None:
    """The recovery of that id."""
    statement = work.select(recoveries).where(recoveries.c.id == recovery_id)
    return work.one(statement.with_for_update() if lock else statement, Recovery)


def insert(work: Work, **values: Any) -> int:
    """Begin a recovery; answers its id."""
    return work.insert(recoveries, **values)


def change(work: Work, recovery_id: int, **values: Any) -> None:
    """Write how a recovery ended."""
    work.update(recoveries, recoveries.c.id == recovery_id, **values)


def add_fill(work: Work, **values: Any) -> int:
    """Put a cylinder into a recovery's plan; answers the fill's id."""
    return work.insert(recovery_fills, **values)


def change_fill(work: Work, fill_id: int, **values: Any) -> None:
    """Write that a cylinder's turn began or ended."""
    work.update(recovery_fills, recovery_fills.c.id == fill_id, **values)


def fills_of(work: Work, recovery_ids: Collection[int]) -> list[Fill]:
    """The cylinders of recoveries, in the order of use."""
    statement = _named(work).where(recovery_fills.c.recovery_id.in_(recovery_ids))
    return work.all(statement.order_by(recovery_fills.c.id), Fill)


def unended_of(work: Work, cylinder_ids: Collection[int]) -> list[Fill]:
    """Turns of these cylinders that have not ended, in whatever recovery goes on."""
    unended = (recovery_fills.c.cylinder_id.in_(cylinder_ids), recovery_fills.c.ended_at.is_(None))
    return work.all(_named(work).where(*unended).order_by(recovery_fills.c.id), Fill)


def filling(work: Work, cylinder_ids: Collection[int]) -> dict[int, tuple[Fill, str]]:
    """The turn under way of each of these cylinders, and how its recovery is done."""
    begun = (recovery_fills.c.begun_at.is_not(None), recovery_fills.c.ended_at.is_(None))
    turns = work.all(_named(work).where(recovery_fills.c.cylinder_id.in_(cylinder_ids), *begun), Fill)
    if not turns:
        return {}
    ids = {turn.recovery_id for turn in turns}
    modes = {
        one.id: one.mode
        for one in work.all(work.select(recoveries).where(recoveries.c.id.in_(ids)), Recovery)
    }
    return {turn.cylinder_id: (turn, modes[turn.recovery_id]) for turn in turns}


def _named(work: Work) -> sa.Select[Any]:
    joined = recovery_fills.join(cylinders, cylinders.c.id == recovery_fills.c.cylinder_id).outerjoin(
        transfers, transfers.c.id == recovery_fills.c.transfer_id
    )
    more = (cylinders.c.serial.label("cylinder"), transfers.c.mass_kg)
    return work.select(recovery_fills, *recovery_fills.c, *more).select_from(joined)
