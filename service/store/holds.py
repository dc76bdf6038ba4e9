"""Queries for holds."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, holds
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Hold:
    """A cylinder set aside."""

    id: int
    cylinder_id: int
    cylinder: str
    reason: str
    placed_at: datetime
    placed_by: str
    released_at: datetime | None
    released_by: str | None
    release_reason: str | None


def _named(work: Work) -> sa.Select[Any]:
    joined = holds.join(cylinders, cylinders.c.id == holds.c.cylinder_id)
    return work.select(holds, *holds.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def insert(work: Work, *, cylinder_id: int, reason: str, at: datetime, by: str) -> int:
    """Set a cylinder aside; answers the hold's id."""
    return work.insert(holds, cylinder_id=cylinder_id, reason=reason, placed_at=at, placed_by=by)


def by_id(work: Work, hold_id: int) -> Hold | None:
    """The hold of that id."""
    return work.one(_named(work).where(holds.c.id == hold_id), Hold)


def in_force(work: Work, cylinder_ids: Collection[int] | None = None) -> dict[int, list[Hold]]:
    """Holds not released, by cylinder; of all cylinders unless some are named."""
    statement = _named(work).where(holds.c.released_at.is_(None))
    if cylinder_ids is not None:
        statement = statement.where(holds.c.cylinder_id.in_(cylinder_ids))
    found: dict[int, list[Hold]] = defaultdict(list)
    for hold in work.all(statement.order_by(holds.c.id), Hold):
        found[hold.cylinder_id].append(hold)
    return found


def page(work: Work, request: PageRequest, *, serial: str | None, in_force_only: bool) -> Page[Hold]:
    """Holds, newest first."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    if in_force_only:
        statement = statement.where(holds.c.released_at.is_(None))
    return fetch_page(work, statement, holds.c.id, Hold, request, newest_first=True)


def release(work: Work, hold_id: int, *, at: datetime, by: str, reason: str | None) -> None:
    """Lift a hold."""
    work.update(holds, holds.c.id == hold_id, released_at=at, released_by=by, release_reason=reason)
