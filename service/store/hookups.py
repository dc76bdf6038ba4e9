"""Queries for hookups."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.places import ids_of
from service.store.tables import cylinders, hookups, places
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Hookup:
    """Devices on a cylinder, with the cylinder's serial and the place's name and elevation."""

    id: int
    cylinder_id: int
    cylinder: str
    place_id: int
    place: str
    elevation_m: float | None
    pressure_device: str
    temperature_device: str
    valve: str
    from_at: datetime
    to_at: datetime | None
    temperature_bias_k: float | None
    pressure_bias_pa: float | None
    probe_lag_s: float | None
    attached_by: str
    detached_by: str | None


def _named(work: Work) -> sa.Select[Any]:
    joined = hookups.join(cylinders, cylinders.c.id == hookups.c.cylinder_id).join(
        places, places.c.id == hookups.c.place_id
    )
    names = (cylinders.c.serial.label("cylinder"), places.c.name.label("place"), places.c.elevation_m)
    return work.select(hookups, *hookups.c, *names).select_from(joined)


def by_id(work: Work, hookup_id: int) -> Hookup | None:
    """The hookup of that id."""
    return work.one(_named(work).where(hookups.c.id == hookup_id), Hookup)


def page(
    work: Work,
    request: PageRequest,
    *,
    active: bool | None = None,
    serial: str | None = None,
    at_places: Collection[str] | None = None,
) -> Page[Hookup]:
    """Hookups in the order they were made; only attached or detached ones, or of cylinders at places, on request."""
    statement = _named(work)
    if at_places is not None:
        statement = statement.where(cylinders.c.place_id.in_(ids_of(work, at_places)))
    if active is not None:
        statement = statement.where(hookups.c.to_at.is_(None) if active else hookups.c.to_at.is_not(None))
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    return fetch_page(work, statement, hookups.c.id, Hookup, request)


def active_with_device(work: Work, *devices: str) -> Hookup | None:
    """An active hookup that one of these devices is on."""
    taken = hookups.c.pressure_device.in_(devices) | hookups.c.temperature_device.in_(devices)
    statement = _named(work).where(hookups.c.to_at.is_(None), taken).order_by(hookups.c.id).limit(1)
    return work.one(statement, Hookup)


def active_of(work: Work, cylinder_id: int) -> list[Hookup]:
    """Active hookups of one cylinder."""
    statement = _named(work).where(hookups.c.to_at.is_(None), hookups.c.cylinder_id == cylinder_id)
    return work.all(statement.order_by(hookups.c.id), Hookup)


def active_by_cylinder(work: Work, cylinder_ids: Collection[int]) -> dict[int, list[Hookup]]:
    """Active hookups of these cylinders, by cylinder."""
    statement = _named(work).where(hookups.c.to_at.is_(None), hookups.c.cylinder_id.in_(cylinder_ids))
    found: dict[int, list[Hookup]] = defaultdict(list)
    for hookup in work.all(statement.order_by(hookups.c.id), Hookup):
        found[hookup.cylinder_id].append(hookup)
    return found


def active_among(work: Work, candidates: Sequence[int]) -> dict[int, Hookup]:
    """Those of these ids that are active hookups of the organisation."""
    statement = _named(work).where(hookups.c.id.in_(candidates), hookups.c.to_at.is_(None))
    return {hookup.id: hookup for hookup in work.all(statement, Hookup)} if candidates else {}


def insert(work: Work, **values: Any) -> int:
    """A new hookup; answers its id."""
    return work.insert(hookups, **values)


def end(work: Work, hookup_id: int, *, at: datetime, by: str) -> bool:
    """Detach; false when it was detached already."""
    still = (hookups.c.id == hookup_id, hookups.c.to_at.is_(None))
    return work.update(hookups, *still, to_at=at, detached_by=by) == 1


def learn_lag(work: Work, hookup_id: int, probe_lag_s: float) -> None:
    """Keep the lag that the worker learned of a hookup's thermometer."""
    work.update(hookups, hookups.c.id == hookup_id, probe_lag_s=probe_lag_s)
