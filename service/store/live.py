"""Queries for live values and the thinned trace."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

from service.store.places import ids_of
from service.store.tables import cylinders, hookups, live, trace
from service.store.work import Work, batched
from service.units import pa_from_kpa


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """How long it will take until a hookup is settled, from the time of its values on [s]."""

    expected_s: float
    least_s: float
    most_s: float


@dataclass(frozen=True, slots=True)
class Live:
    """What the worker last said of a hookup, with the cylinder's serial."""

    id: int
    hookup_id: int
    cylinder: str
    at: datetime
    received_at: datetime
    settling_state: str
    temp_k: float | None
    pressure_pa: float | None
    document: dict[str, Any]

    @property
    def gauge_pa(self) -> float | None:
        """As the worker stated it [Pa gauge]."""
        return stated_gauge_pa(self.document)

    @property
    def reasons(self) -> Sequence[str]:
        """Why it is not settled, or not to be relied on."""
        reasons: Sequence[str] = self.document.get("reasons", ())
        return reasons

    @property
    def mass_kg(self) -> float | None:
        """Gross, from the scale under the cylinder [kg]."""
        return self.document.get("mass_kg")

    @property
    def battery_percent(self) -> float | None:
        """The lowest of its devices [%]."""
        return self.document.get("battery_percent")

    @property
    def drift_k_per_h(self) -> float | None:
        """How the temperature changes [K/h]."""
        return self.document.get("drift_k_per_h")

    @property
    def good_to_k(self) -> float | None:
        """How well the temperature is known [K]."""
        return self.document.get("good_to_k")

    @property
    def time_left(self) -> TimeLeft | None:
        """How long it will take until it is settled, where the worker can tell."""
        return stated_time_left(self.document)


def stated_time_left(document: Mapping[str, Any]) -> TimeLeft | None:
    """The time left in what the worker said."""
    stated = document.get("time_left")
    return TimeLeft(stated["expected_s"], stated["least_s"], stated["most_s"]) if stated else None


def stated_gauge_pa(document: Mapping[str, Any]) -> float | None:
    """The gauge pressure in what the worker said, which is kept as it came [Pa]."""
    stated_kpa = document.get("gauge_pressure_kpa")
    return None if stated_kpa is None else pa_from_kpa(float(stated_kpa))


@dataclass(frozen=True, slots=True)
class TracePoint:
    """One kept point of a hookup's course."""

    hookup_id: int
    at: datetime
    settling_state: str
    temp_k: float | None
    pressure_pa: float | None
    mass_kg: float | None


def _insert(work: Work) -> Any:
    return postgresql.insert if work.connection.dialect.name == "postgresql" else sqlite.insert


def put(work: Work, rows: Sequence[dict[str, Any]]) -> None:
    """Replace the live rows of these hookups; an older snapshot does not overwrite a newer one."""
    for batch in batched(rows):
        _put(work, batch)


def _put(work: Work, rows: Sequence[dict[str, Any]]) -> None:
    statement = _insert(work)(live).values([{**row, "organisation_id": work.organisation_id} for row in rows])
    newer = {name: statement.excluded[name] for name in rows[0] if name != "hookup_id"}
    work.connection.execute(
        statement.on_conflict_do_update(
            index_elements=["hookup_id"], set_=newer, where=live.c.at <= statement.excluded.at
        )
    )


def keep(work: Work, rows: Sequence[dict[str, Any]]) -> None:
    """Add points to the trace; a point already there stays."""
    for batch in batched(rows):
        owned = [{**row, "organisation_id": work.organisation_id} for row in batch]
        statement = _insert(work)(trace).values(owned)
        work.connection.execute(statement.on_conflict_do_nothing(index_elements=["hookup_id", "at"]))


def _named(work: Work) -> sa.Select[Any]:
    joined = live.join(hookups, hookups.c.id == live.c.hookup_id).join(
        cylinders, cylinders.c.id == hookups.c.cylinder_id
    )
    return work.select(live, *live.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def received_since(
    work: Work, moment: datetime, *, limit: int = 1000, at_places: Collection[str] | None = None
) -> list[Live]:
    """Live rows that came in after a moment, oldest first; of cylinders at some places on request."""
    statement = _named(work).where(live.c.received_at > moment, hookups.c.to_at.is_(None))
    if at_places is not None:
        statement = statement.where(cylinders.c.place_id.in_(ids_of(work, at_places)))
    return work.all(statement.order_by(live.c.received_at, live.c.id).limit(limit), Live)


def of_hookups(work: Work, hookup_ids: Sequence[int]) -> dict[int, Live]:
    """The live row of each hookup that has one."""
    rows = work.all(_named(work).where(live.c.hookup_id.in_(hookup_ids)), Live)
    return {row.hookup_id: row for row in rows}


def newest_received(connection: sa.Connection) -> dict[int, datetime]:
    """When live values last came in for each organisation, for the tail that wakes streams."""
    newest = sa.select(live.c.organisation_id, sa.func.max(live.c.received_at)).group_by(
        live.c.organisation_id
    )
    return {int(owner): at for owner, at in connection.execute(newest)}


def traces_since(work: Work, hookup_ids: Collection[int], since: datetime) -> dict[int, list[TracePoint]]:
    """The course of each hookup since a moment, oldest first."""
    statement = work.select(trace).where(trace.c.hookup_id.in_(hookup_ids), trace.c.at >= since)
    found: dict[int, list[TracePoint]] = {}
    for point in work.all(statement.order_by(trace.c.at), TracePoint):
        found.setdefault(point.hookup_id, []).append(point)
    return found


def trace_of(
    work: Work, hookup_id: int, *, since: datetime | None = None, limit: int = 2000
) -> list[TracePoint]:
    """A hookup's course, oldest first; the newest points where there are more than ``limit``."""
    statement = work.select(trace).where(trace.c.hookup_id == hookup_id)
    if since is not None:
        statement = statement.where(trace.c.at >= since)
    return work.all(statement.order_by(trace.c.at.desc()).limit(limit), TracePoint)[::-1]
