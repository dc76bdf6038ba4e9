"""Queries for devices that have been heard of."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import devices, hookups
from service.store.work import Work, batched

STILL_HEARD = timedelta(minutes=10)
"""What a device said just before it was retired may arrive a little later."""


@dataclass(frozen=True, slots=True)
class Device:
    """An instrument with its last values and, where it is attached, its hookup."""

    id: int
    name: str
    place: str | None
    last_seen_at: datetime | None
    readings: dict[str, Any]
    probe_lag_s: float | None
    called: str | None
    retired_at: datetime | None
    hookup_id: int | None

    @property
    def attached(self) -> bool:
        """Whether it is on a cylinder."""
        return self.hookup_id is not None

    @property
    def retired(self) -> bool:
        """Whether it has been taken out of use."""
        return self.retired_at is not None

    @property
    def still_heard(self) -> bool:
        """Whether it has been heard after it was retired."""
        heard, retired = self.last_seen_at, self.retired_at
        return heard is not None and retired is not None and heard > retired + STILL_HEARD

    @property
    def heard_at(self) -> datetime:
        """When it was last heard, to order by: a device not heard yet comes before all time."""
        return self.last_seen_at or datetime.min.replace(tzinfo=UTC)


def page(
    work: Work,
    request: PageRequest,
    *,
    attached: bool | None = None,
    at_places: Collection[str] | None = None,
) -> Page[Device]:
    """Devices in the order they were first seen; ``at_places`` leaves out those heard elsewhere."""
    active = (
        work.select(hookups, sa.func.min(hookups.c.id))
        .where(
            hookups.c.to_at.is_(None),
            (hookups.c.pressure_device == devices.c.name) | (hookups.c.temperature_device == devices.c.name),
        )
        .correlate(devices)
        .scalar_subquery()
    )
    statement = work.select(devices, *devices.c, active.label("hookup_id"))
    if at_places is not None:
        statement = statement.where(devices.c.place.in_(at_places))
    if attached is not None:
        statement = statement.where(active.is_not(None) if attached else active.is_(None))
    return fetch_page(work, statement, devices.c.id, Device, request)


def heard_at(work: Work, places: Collection[str], since: datetime) -> list[Device]:
    """Devices that were heard at these places since a moment, whether attached left open."""
    statement = work.select(devices, *devices.c, sa.null().label("hookup_id"))
    return work.all(statement.where(devices.c.place.in_(places), devices.c.last_seen_at >= since), Device)


def heard_since(work: Work, since: datetime) -> list[Device]:
    """Devices that were heard anywhere since a moment, whether attached left open."""
    statement = work.select(devices, *devices.c, sa.null().label("hookup_id"))
    return work.all(statement.where(devices.c.last_seen_at >= since).order_by(devices.c.id), Device)


def see(work: Work, rows: Sequence[dict[str, Any]]) -> None:
    """Note devices by name, their place, time and last readings; an older sighting does not overwrite."""
    for batch in batched(rows):
        _see(work, batch)


def _see(work: Work, rows: Sequence[dict[str, Any]]) -> None:
    insert = postgresql.insert if work.connection.dialect.name == "postgresql" else sqlite.insert
    statement = insert(devices).values([{**row, "organisation_id": work.organisation_id} for row in rows])
    newer = {name: statement.excluded[name] for name in ("place", "last_seen_at", "readings")}
    work.connection.execute(
        statement.on_conflict_do_update(
            index_elements=["organisation_id", "name"],
            set_=newer,
            where=devices.c.last_seen_at.is_(None)
            | (devices.c.last_seen_at <= statement.excluded.last_seen_at),
        )
    )


def by_name(work: Work, name: str) -> Device | None:
    """The device of that name, whether attached left open."""
    statement = work.select(devices, *devices.c, sa.null().label("hookup_id"))
    return work.one(statement.where(devices.c.name == name), Device)


def insert(work: Work, *, name: str, place: str | None, probe_lag_s: float | None) -> None:
    """A device that has not been heard yet."""
    work.insert(devices, name=name, place=place, probe_lag_s=probe_lag_s, readings={})


def change(work: Work, name: str, **columns: Any) -> None:
    """Change a device's columns."""
    work.update(devices, devices.c.name == name, **columns)


def retired_among(work: Work, names: Collection[str]) -> list[str]:
    """Those of these devices that are retired, by name."""
    statement = work.select(devices, devices.c.name).where(
        devices.c.name.in_(names), devices.c.retired_at.is_not(None)
    )
    return sorted(work.connection.execute(statement).scalars())


def lag_of(work: Work, name: str) -> float | None:
    """The lag once learned of a thermometer [s]."""
    found = work.select(devices, devices.c.probe_lag_s).where(devices.c.name == name)
    lag: float | None = work.connection.execute(found).scalar_one_or_none()
    return lag


def learn_lag(work: Work, name: str, probe_lag_s: float) -> None:
    """Remember a thermometer's lag for its next hookup [s]."""
    work.update(devices, devices.c.name == name, probe_lag_s=probe_lag_s)
