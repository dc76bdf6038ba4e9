"""Queries for verdicts."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, verdicts
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class StoredVerdict:
    """A verdict as it was reached; ``document`` holds all of it, SI inside."""

    id: int
    cylinder_id: int
    epoch: int
    pair_id: int | None
    reached_at: datetime
    identity_finding: str
    designation: str | None
    probability: float | None
    contamination_finding: str
    contents_finding: str
    disposition_code: str
    model_version: str
    document: dict[str, Any]


def insert(work: Work, **values: Any) -> StoredVerdict:
    """A new verdict."""
    return StoredVerdict(id=work.insert(verdicts, **values), **values)


def by_id(work: Work, verdict_id: int) -> StoredVerdict | None:
    """The verdict of that id."""
    return work.one(work.select(verdicts).where(verdicts.c.id == verdict_id), StoredVerdict)


def by_ids(work: Work, verdict_ids: Collection[int]) -> dict[int, StoredVerdict]:
    """These verdicts, by id."""
    chosen = work.select(verdicts).where(verdicts.c.id.in_(verdict_ids))
    return {verdict.id: verdict for verdict in work.all(chosen, StoredVerdict)} if verdict_ids else {}


def page(work: Work, request: PageRequest, cylinder_id: int) -> Page[StoredVerdict]:
    """A cylinder's verdicts, newest first."""
    statement = work.select(verdicts).where(verdicts.c.cylinder_id == cylinder_id)
    return fetch_page(work, statement, verdicts.c.id, StoredVerdict, request, newest_first=True)


def identified_counts(work: Work, *, besides: int) -> dict[str, int]:
    """How many of the owner's other cylinders hold each designation, by their newest verdicts."""
    joined = verdicts.join(cylinders, cylinders.c.verdict_id == verdicts.c.id)
    counted = (
        work.select(verdicts, verdicts.c.designation, sa.func.count())
        .select_from(joined)
        .where(verdicts.c.identity_finding == "identified", verdicts.c.cylinder_id != besides)
        .group_by(verdicts.c.designation)
    )
    return {str(name): int(count) for name, count in work.connection.execute(counted) if name}
