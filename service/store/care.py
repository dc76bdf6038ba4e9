"""Queries for what was seen, tested and done to a cylinder by hand."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import care, cylinders
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Care:
    """One entry of a cylinder's care."""

    id: int
    cylinder_id: int
    cylinder: str
    kind: str
    epoch: int
    passed: bool | None
    details: dict[str, Any]
    occurred_at: datetime
    recorded_at: datetime
    recorded_by: str


def _named(work: Work) -> sa.Select[Any]:
    joined = care.join(cylinders, cylinders.c.id == care.c.cylinder_id)
    return work.select(care, *care.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def insert(work: Work, **values: Any) -> int:
    """Record an entry; answers its id."""
    return work.insert(care, **values)


def by_id(work: Work, care_id: int) -> Care | None:
    """The entry of that id."""
    return work.one(_named(work).where(care.c.id == care_id), Care)


def newest(
    work: Work, kinds: Collection[str], cylinder_ids: Collection[int] | None = None
) -> dict[tuple[int, str], Care]:
    """The newest entry of each of these kinds, by cylinder and kind."""
    latest = work.select(care, sa.func.max(care.c.id)).where(care.c.kind.in_(kinds))
    if cylinder_ids is not None:
        latest = latest.where(care.c.cylinder_id.in_(cylinder_ids))
    chosen = _named(work).where(care.c.id.in_(latest.group_by(care.c.cylinder_id, care.c.kind)))
    return {(entry.cylinder_id, entry.kind): entry for entry in work.all(chosen, Care)}


def of_epoch(work: Work, cylinder_id: int, epoch: int, kind: str) -> list[Care]:
    """A cylinder's entries of one kind about the contents of one epoch, the oldest first."""
    about = (care.c.cylinder_id == cylinder_id, care.c.kind == kind, care.c.epoch == epoch)
    return work.all(_named(work).where(*about).order_by(care.c.occurred_at, care.c.id), Care)


def page(
    work: Work, request: PageRequest, *, serial: str | None = None, kind: str | None = None
) -> Page[Care]:
    """Entries, newest first."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    if kind is not None:
        statement = statement.where(care.c.kind == kind)
    return fetch_page(work, statement, care.c.id, Care, request, newest_first=True)
