"""Queries for alarms."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.codes import Severity
from service.store.paging import Page, PageRequest, fetch_page
from service.store.places import ids_of
from service.store.tables import alarms, cylinders
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Alarm:
    """Something that a supervisor must see."""

    id: int
    code: str
    severity: str
    cylinder_id: int | None
    cylinder: str | None
    device: str | None
    text: str
    details: dict[str, Any] | None
    raised_at: datetime
    cleared_at: datetime | None
    acknowledged_at: datetime | None
    acknowledged_by: str | None


@dataclass(frozen=True, slots=True)
class CauseCount:
    """How many alarms of one code and severity stand, since when, and how many somebody has seen."""

    code: str
    severity: str
    count: int
    oldest_at: datetime
    seen: int


def _named(work: Work) -> sa.Select[Any]:
    joined = alarms.outerjoin(cylinders, cylinders.c.id == alarms.c.cylinder_id)
    return work.select(alarms, *alarms.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def by_id(work: Work, alarm_id: int) -> Alarm | None:
    """The alarm of that id."""
    return work.one(_named(work).where(alarms.c.id == alarm_id), Alarm)


def open_ones(work: Work, *, cylinder_id: int | None = None, device: str | None = None) -> list[Alarm]:
    """Alarms not yet cleared, of one cylinder or device on request."""
    statement = _named(work).where(alarms.c.cleared_at.is_(None))
    if cylinder_id is not None:
        statement = statement.where(alarms.c.cylinder_id == cylinder_id)
    if device is not None:
        statement = statement.where(alarms.c.device == device)
    return work.all(statement.order_by(alarms.c.id), Alarm)


def open_by_cylinder(work: Work, cylinder_ids: Collection[int]) -> dict[int, list[Alarm]]:
    """Alarms not yet cleared of these cylinders, by cylinder."""
    statement = _named(work).where(alarms.c.cleared_at.is_(None), alarms.c.cylinder_id.in_(cylinder_ids))
    found: dict[int, list[Alarm]] = defaultdict(list)
    for alarm in work.all(statement.order_by(alarms.c.id), Alarm):
        if alarm.cylinder_id is not None:
            found[alarm.cylinder_id].append(alarm)
    return found


def worsen(work: Work, alarm_id: int, *, severity: str, text: str, details: dict[str, Any]) -> None:
    """It got more serious: whoever has seen the milder alarm has not seen this."""
    work.update(
        alarms,
        alarms.c.id == alarm_id,
        severity=severity,
        text=text,
        details=details,
        acknowledged_at=None,
        acknowledged_by=None,
    )


def detail(work: Work, alarm_id: int, details: dict[str, Any]) -> None:
    """Tell more of an alarm; whoever has seen it need not see it again."""
    work.update(alarms, alarms.c.id == alarm_id, details=details)


def causes(work: Work) -> list[CauseCount]:
    """What stands, counted by code and severity."""
    c = alarms.c
    counts = (sa.func.count().label("count"), sa.func.count(c.acknowledged_at).label("seen"))
    oldest = sa.func.min(c.raised_at, type_=c.raised_at.type).label("oldest_at")
    statement = work.select(alarms, c.code, c.severity, *counts, oldest).where(c.cleared_at.is_(None))
    return work.all(statement.group_by(c.code, c.severity).order_by(c.code, c.severity), CauseCount)


def acknowledge_cause(work: Work, code: str, *, at: datetime, by: str) -> list[Alarm]:
    """Somebody has seen all that stand under a code, but for those that are critical; answers which."""
    c = alarms.c
    unseen = (
        c.code == code,
        c.cleared_at.is_(None),
        c.acknowledged_at.is_(None),
        c.severity != Severity.CRITICAL,
    )
    found = work.all(_named(work).where(*unseen).order_by(c.id), Alarm)
    work.update(alarms, *unseen, acknowledged_at=at, acknowledged_by=by)
    return found


def page(
    work: Work,
    request: PageRequest,
    *,
    open_only: bool,
    serial: str | None = None,
    place: str | None = None,
    code: str | None = None,
    severity: str | None = None,
    at_places: Collection[str] | None = None,
) -> Page[Alarm]:
    """Alarms, newest first, of one cylinder, place or code, or of cylinders at places, on request."""
    statement = _named(work)
    if at_places is not None:
        statement = statement.where(cylinders.c.place_id.in_(ids_of(work, at_places)))
    if open_only:
        statement = statement.where(alarms.c.cleared_at.is_(None))
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    if place is not None:
        statement = statement.where(cylinders.c.place_id.in_(ids_of(work, [place])))
    if code is not None:
        statement = statement.where(alarms.c.code == code)
    if severity is not None:
        statement = statement.where(alarms.c.severity == severity)
    return fetch_page(work, statement, alarms.c.id, Alarm, request, newest_first=True)


def insert(work: Work, **values: Any) -> int:
    """Raise an alarm; answers its id."""
    return work.insert(alarms, **values)


def clear(work: Work, alarm_id: int, at: datetime) -> None:
    """The cause is gone."""
    work.update(alarms, alarms.c.id == alarm_id, cleared_at=at)


def acknowledge(work: Work, alarm_id: int, *, at: datetime, by: str) -> None:
    """Somebody has seen it."""
    work.update(
        alarms,
        alarms.c.id == alarm_id,
        alarms.c.acknowledged_at.is_(None),
        acknowledged_at=at,
        acknowledged_by=by,
    )
