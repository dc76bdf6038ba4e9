"""Queries for unfinished forms."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.tables import drafts
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Draft:
    """What was typed into a form, when and by whom."""

    form: str
    document: dict[str, Any]
    changed_at: datetime
    changed_by: str


def of_form(work: Work, form: str) -> Draft | None:
    """The draft of a form."""
    columns = (drafts.c.form, drafts.c.document, drafts.c.changed_at, drafts.c.changed_by)
    return work.one(work.select(drafts, *columns).where(drafts.c.form == form), Draft)


def put(work: Work, form: str, document: dict[str, Any], *, at: datetime, by: str) -> None:
    """Keep a draft in place of the one before."""
    changed = {"document": document, "changed_at": at, "changed_by": by}
    if not work.update(drafts, drafts.c.form == form, **changed):
        work.insert(drafts, form=form, **changed)


def drop(work: Work, form: str) -> None:
    """Forget a draft; no draft is no error."""
    work.delete(drafts, drafts.c.form == form)


def forget_before(connection: sa.Connection, moment: datetime) -> int:
    """Forget drafts that nobody touched since a moment; answers how many."""
    return int(connection.execute(sa.delete(drafts).where(drafts.c.changed_at < moment)).rowcount)
