"""Queries for summaries: what the judgement last said of each cylinder, gone as soon as its facts change."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.codes import Standing
from service.store.tables import cylinders, places, summaries
from service.store.work import Work, batched

BAR = "|"


@dataclass(frozen=True, slots=True)
class Summary:
    """
    What the judgement said, as far as it rests on the cylinder's own record alone.

    Nothing in it changes with time or with what devices say, so that it holds until the record changes.

    Parameters
    ----------
    cylinder_id
        Of which cylinder.
    judged_by, law
        By which version of the rules, under which law.
    believable
        Everything that it may hold, each between bars.
    form, name
        What it is called.
    known
        Its contents were measured, or it is recorded as evacuated.
    weighed
        How much is in it is known.
    liquid_fraction, limit_fraction
        Share of the volume that is liquid, now and at the limit [-].
    over
        More is in it than is allowed.
    """

    cylinder_id: int
    judged_by: str
    law: str
    believable: str
    form: str
    name: str
    known: bool
    weighed: bool
    liquid_fraction: float | None
    limit_fraction: float | None
    over: bool

    @property
    def designations(self) -> tuple[str, ...]:
        """Everything that it may hold."""
        return tuple(self.believable.strip(BAR).split(BAR)) if self.believable else ()


def between_bars(designations: Sequence[str]) -> str:
    """Designations as one text in which each can be looked for."""
    return f"{BAR}{BAR.join(designations)}{BAR}" if designations else ""


def current(work: Work, judged_by: str) -> sa.ColumnElement[bool]:
    """Whether a row of the join speaks for its cylinder: these rules, and the law of its place."""
    law = sa.func.coalesce(places.c.rule_book, work.rule_book)
    return (
        (summaries.c.cylinder_id == cylinders.c.id)
        & (summaries.c.judged_by == judged_by)
        & (summaries.c.law == law)
    )


def missing(work: Work, judged_by: str) -> list[int]:
    """Cylinders in service without a summary that speaks for them."""
    joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id)
    joined = joined.outerjoin(summaries, current(work, judged_by))
    statement = work.select(cylinders, cylinders.c.id).select_from(joined)
    statement = statement.where(cylinders.c.standing == Standing.IN_SERVICE, summaries.c.id.is_(None))
    return [int(one) for one in work.connection.execute(statement.order_by(cylinders.c.id)).scalars()]


def of(work: Work, cylinder_ids: Collection[int]) -> dict[int, Summary]:
    """The rows of these cylinders, whether or not they still speak for them."""
    statement = work.select(summaries).where(summaries.c.cylinder_id.in_(cylinder_ids))
    return {row.cylinder_id: row for row in work.all(statement, Summary)}


def keep(work: Work, rows: Sequence[Summary], at: datetime) -> None:
    """Write those that differ from what is kept, of cylinders that were read with ``lock``."""
    for some in batched(rows):
        kept = of(work, [row.cylinder_id for row in some])
        changed = [row for row in some if kept.get(row.cylinder_id) != row]
        forget(work, [row.cylinder_id for row in changed if row.cylinder_id in kept])
        work.insert_many(summaries, [{**asdict(row), "judged_at": at} for row in changed])


def forget(work: Work, cylinder_ids: Collection[int]) -> None:
    """Drop what was said: a fact that it rests on has changed in this transaction."""
    if cylinder_ids:
        work.delete(summaries, summaries.c.cylinder_id.in_(cylinder_ids))


def believed(work: Work, judged_by: str) -> sa.Select[Any]:
    """Distinct sets of what cylinders in service may hold; null for those that no summary speaks for."""
    joined = cylinders.outerjoin(places, places.c.id == cylinders.c.place_id)
    joined = joined.outerjoin(summaries, current(work, judged_by))
    statement = work.select(cylinders, summaries.c.believable).select_from(joined)
    return statement.where(cylinders.c.standing == Standing.IN_SERVICE).distinct()
