"""Queries for equilibrium pairs."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields
from datetime import datetime

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import pairs
from service.store.work import Work


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptedPair:
    """An equilibrium pair as accepted: SI, absolute, with the atmosphere that a gauge reading was against."""

    cylinder_id: int
    epoch: int
    hookup_id: int | None
    temp_k: float
    pressure_pa: float
    temp_noise_k: float
    pressure_noise_pa: float
    temp_bias_k: float
    pressure_bias_pa: float
    atmosphere_pa: float | None
    atmosphere_bias_pa: float
    atmosphere_source: str
    pressure_device: str | None
    temperature_device: str | None
    settled_at: datetime
    from_at: datetime | None
    to_at: datetime | None
    provisional: bool
    reasons: list[str]
    mass_kg: float | None
    ambient_temp_k: float | None
    recorded_by: str
    received_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPair(AcceptedPair):
    """The same, as a row."""

    id: int

    @property
    def gauge_pa(self) -> float | None:
        """As a gauge had it [Pa]; None when it was read absolute."""
        return None if self.atmosphere_pa is None else self.pressure_pa - self.atmosphere_pa


def insert(work: Work, pair: AcceptedPair) -> StoredPair:
    """Keep a pair."""
    values = {field.name: getattr(pair, field.name) for field in fields(pair)}
    return StoredPair(id=work.insert(pairs, **values), **values)


def by_id(work: Work, pair_id: int) -> StoredPair | None:
    """The pair of that id."""
    return work.one(work.select(pairs).where(pairs.c.id == pair_id), StoredPair)


def cylinders_with_pairs(work: Work, cylinder_ids: Collection[int]) -> set[int]:
    """Those of these cylinders that have a settled pair."""
    settled = work.select(pairs, pairs.c.cylinder_id).where(
        pairs.c.cylinder_id.in_(cylinder_ids), pairs.c.provisional.is_(False)
    )
    return {int(row[0]) for row in work.connection.execute(settled.distinct())}


def move_to_epoch(work: Work, cylinder_id: int, epoch: int, *, since: datetime) -> int:
    """Let the pairs settled since a moment speak in an epoch that was recorded late; answers how many."""
    return work.update(pairs, pairs.c.cylinder_id == cylinder_id, pairs.c.settled_at >= since, epoch=epoch)


def speaking(work: Work, cylinder_id: int, epoch: int, *, limit: int = 64) -> list[StoredPair]:
    """The settled pairs of an epoch, oldest first; the newest where there are more than ``limit``."""
    spoken = (pairs.c.cylinder_id == cylinder_id, pairs.c.epoch == epoch, pairs.c.provisional.is_(False))
    newest = work.all(work.select(pairs).where(*spoken).order_by(pairs.c.id.desc()).limit(limit), StoredPair)
    return newest[::-1]


def last_two(work: Work, epochs: Mapping[int, int]) -> dict[int, list[StoredPair]]:
    """The last two settled pairs of one epoch of each of these cylinders, oldest first, by cylinder."""
    if not epochs:
        return {}
    rank = sa.func.row_number().over(partition_by=pairs.c.cylinder_id, order_by=pairs.c.id.desc())
    of_epoch = sa.tuple_(pairs.c.cylinder_id, pairs.c.epoch).in_(list(epochs.items()))
    ranked = work.select(pairs, *pairs.c, rank.label("rank")).where(of_epoch, pairs.c.provisional.is_(False))
    newest = ranked.subquery()
    statement = sa.select(newest).where(newest.c.rank <= 2).order_by(newest.c.id)
    found: dict[int, list[StoredPair]] = defaultdict(list)
    for pair in work.all(statement, StoredPair):
        found[pair.cylinder_id].append(pair)
    return found


def page(
    work: Work,
    request: PageRequest,
    cylinder_id: int,
    *,
    epoch: int | None = None,
    provisional: bool | None = None,
) -> Page[StoredPair]:
    """A cylinder's pairs, newest first."""
    statement = work.select(pairs).where(pairs.c.cylinder_id == cylinder_id)
    if epoch is not None:
        statement = statement.where(pairs.c.epoch == epoch)
    if provisional is not None:
        statement = statement.where(pairs.c.provisional.is_(provisional))
    return fetch_page(work, statement, pairs.c.id, StoredPair, request, newest_first=True)
