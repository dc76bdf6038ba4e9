"""Queries for places."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import places
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Place:
    """A shop, van or site."""

    id: int
    name: str
    kind: str
    elevation_m: float | None
    created_at: datetime
    rule_book: str | None = None


def by_name(work: Work, name: str) -> Place | None:
    """The place of that name."""
    return work.one(work.select(places).where(places.c.name == name), Place)


def by_id(work: Work, place_id: int) -> Place | None:
    """The place of that id."""
    return work.one(work.select(places).where(places.c.id == place_id), Place)


def page(work: Work, request: PageRequest, *, names: Collection[str] | None = None) -> Page[Place]:
    """Places in the order they were made; only those of some names on request."""
    statement = work.select(places)
    if names is not None:
        statement = statement.where(places.c.name.in_(names))
    return fetch_page(work, statement, places.c.id, Place, request)


def ids_of(work: Work, names: Collection[str]) -> sa.Select[Any]:
    """Statement: the ids of the places of these names."""
    return work.select(places, places.c.id).where(places.c.name.in_(names))


def insert(work: Work, *, name: str, kind: str, elevation_m: float | None, at: datetime) -> Place:
    """A new place."""
    place_id = work.insert(places, name=name, kind=kind, elevation_m=elevation_m, created_at=at)
    return Place(place_id, name, kind, elevation_m, at)


def change(work: Work, place_id: int, **columns: float | str | None) -> None:
    """Correct what is known of a place."""
    work.update(places, places.c.id == place_id, **columns)
