"""Queries for mappings of foreign messages."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import mappings
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class StoredMapping:
    """One version of a mapping; without a document it is withdrawn."""

    id: int
    name: str
    version: int
    document: dict[str, Any] | None
    saved_at: datetime
    saved_by: str


def _current(work: Work) -> sa.Select[Any]:
    newest = work.select(mappings, sa.func.max(mappings.c.id)).group_by(mappings.c.name)
    return work.select(mappings).where(mappings.c.id.in_(newest))


def by_name(work: Work, name: str) -> StoredMapping | None:
    """The newest version of that name, withdrawn or not."""
    return work.one(_current(work).where(mappings.c.name == name), StoredMapping)


def page(work: Work, request: PageRequest) -> Page[StoredMapping]:
    """Those that are read by, in the order in which they were last saved."""
    # JSON null and SQL null both mean withdrawn; what the driver writes for None is the type's business.
    statement = _current(work).where(mappings.c.document.is_not(None))
    return fetch_page(work, statement, mappings.c.id, StoredMapping, request)


def topics(connection: sa.Connection) -> dict[int, list[str]]:
    """The topics of all mappings that are read by, for each organisation."""
    newest = sa.select(sa.func.max(mappings.c.id)).group_by(mappings.c.organisation_id, mappings.c.name)
    statement = sa.select(mappings.c.organisation_id, mappings.c.document).where(mappings.c.id.in_(newest))
    found: dict[int, list[str]] = {}
    for owner, document in connection.execute(statement):
        if document is not None:
            found.setdefault(int(owner), []).append(str(document["topic"]))
    return found


def versions(work: Work, name: str, request: PageRequest) -> Page[StoredMapping]:
    """Every version of one name, newest first."""
    statement = work.select(mappings).where(mappings.c.name == name)
    return fetch_page(work, statement, mappings.c.id, StoredMapping, request, newest_first=True)


def insert(
    work: Work, *, name: str, version: int, document: dict[str, Any] | None, at: datetime, by: str
) -> StoredMapping:
    """A new version."""
    given = {"name": name, "version": version, "document": document, "saved_at": at, "saved_by": by}
    return StoredMapping(work.insert(mappings, **given), **given)  # type: ignore[arg-type]
