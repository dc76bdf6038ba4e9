"""Queries for verdicts."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import verdicts
from service.store.work import Work
from service.verdict.document import from_json, to_json
from service.verdict.model import Verdict


@dataclass(frozen=True, slots=True)
class StoredVerdict:
    """A verdict as it was reached, with what lists are filtered by; ``found`` is all of it, in SI."""

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
    found: Verdict


@dataclass(frozen=True, slots=True)
class VerdictGist:
    """What the judgement needs of a verdict; all of it only where no gist was kept with it."""

    id: int
    cylinder_id: int
    reached_at: datetime
    gist: dict[str, Any] | None
    found: Verdict | None


@dataclass(frozen=True, slots=True)
class _Row:
    """A row as it is stored."""

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
    document: Mapping[str, Any]


def _read(row: _Row) -> StoredVerdict:
    columns = {field.name: getattr(row, field.name) for field in fields(_Row) if field.name != "document"}
    return StoredVerdict(**columns, found=from_json(row.document))


def insert(
    work: Work,
    *,
    cylinder_id: int,
    epoch: int,
    pair_id: int | None,
    reached_at: datetime,
    verdict: Verdict,
    gist: Mapping[str, Any],
) -> StoredVerdict:
    """A new verdict, with its gist beside it."""
    first = verdict.identity.candidates[0] if verdict.identity.candidates else None
    values: dict[str, Any] = {
        "cylinder_id": cylinder_id,
        "epoch": epoch,
        "pair_id": pair_id,
        "reached_at": reached_at,
        "identity_finding": verdict.identity.finding,
        "designation": first.designation if first else None,
        "probability": first.probability if first else None,
        "contamination_finding": verdict.contamination.finding,
        "contents_finding": verdict.contents_state.finding,
        "disposition_code": verdict.disposition.code,
        "model_version": verdict.model_version,
    }
    verdict_id = work.insert(verdicts, **values, gist=dict(gist), document=to_json(verdict))
    return StoredVerdict(**values, id=verdict_id, found=verdict)


def by_id(work: Work, verdict_id: int) -> StoredVerdict | None:
    """The verdict of that id."""
    row = work.one(work.select(verdicts).where(verdicts.c.id == verdict_id), _Row)
    return None if row is None else _read(row)


def gists(work: Work, verdict_ids: Collection[int]) -> dict[int, VerdictGist]:
    """The gists of these verdicts, by id."""
    if not verdict_ids:
        return {}
    c = verdicts.c
    without = sa.case((c.gist.is_(None), c.document), else_=None).label("document")
    chosen = work.select(verdicts, c.id, c.cylinder_id, c.reached_at, c.gist, without)
    found = {}
    for row in work.connection.execute(chosen.where(c.id.in_(verdict_ids))):
        verdict = None if row.document is None else from_json(row.document)
        found[int(row.id)] = VerdictGist(row.id, row.cylinder_id, row.reached_at, row.gist, verdict)
    return found


def page(work: Work, request: PageRequest, cylinder_id: int) -> Page[StoredVerdict]:
    """A cylinder's verdicts, newest first."""
    statement = work.select(verdicts).where(verdicts.c.cylinder_id == cylinder_id)
    found = fetch_page(work, statement, verdicts.c.id, _Row, request, newest_first=True)
    return Page([_read(row) for row in found.items], found.next)
