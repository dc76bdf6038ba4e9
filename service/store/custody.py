"""Queries for who holds a cylinder."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import custody, cylinders
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Custody:
    """A cylinder in somebody's hands."""

    id: int
    cylinder_id: int
    cylinder: str
    holder: str
    since: datetime
    due_on: date | None
    returned_at: datetime | None
    note: str | None
    recorded_by: str


def _named(work: Work) -> sa.Select[Any]:
    joined = custody.join(cylinders, cylinders.c.id == custody.c.cylinder_id)
    return work.select(custody, *custody.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def page(work: Work, request: PageRequest, *, out_only: bool) -> Page[Custody]:
    """Who held what, newest first; only what is still out on request."""
    statement = _named(work)
    if out_only:
        statement = statement.where(custody.c.returned_at.is_(None))
    return fetch_page(work, statement, custody.c.id, Custody, request, newest_first=True)


def present(work: Work, cylinder_id: int) -> Custody | None:
    """Who holds a cylinder now."""
    out = (custody.c.cylinder_id == cylinder_id, custody.c.returned_at.is_(None))
    return work.one(_named(work).where(*out), Custody)


def due_before(work: Work, day: date) -> list[Custody]:
    """What is still out and was due back before a day."""
    late = (custody.c.returned_at.is_(None), custody.c.due_on < day)
    return work.all(_named(work).where(*late).order_by(custody.c.id), Custody)


def by_id(work: Work, custody_id: int) -> Custody | None:
    """One entry."""
    return work.one(_named(work).where(custody.c.id == custody_id), Custody)


def insert(work: Work, **values: Any) -> int:
    """Hand a cylinder to somebody; answers the entry's id."""
    return work.insert(custody, **values)


def bring_back(work: Work, custody_id: int, at: datetime) -> None:
    """End an entry."""
    work.update(custody, custody.c.id == custody_id, returned_at=at)
