"""Queries for what cylinders turned out to hold."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import analyses, cylinders, verdicts
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Analysis:
    """One result, with the verdict that stood before the first one on the same contents."""

    id: int
    cylinder_id: int
    cylinder: str
    epoch: int
    kind: str
    designation: str | None
    state: str | None
    mass_fractions: dict[str, float] | None
    mass_fraction_uncertainty: float | None
    non_condensables_percent: float | None
    moisture_ppm: float | None
    acid_ppm: float | None
    oil_percent: float | None
    method: str | None
    laboratory: str | None
    number: str | None
    note: str | None
    verdict_id: int | None
    temp_bias_k: float | None
    pressure_bias_pa: float | None
    sampled_at: datetime
    recorded_at: datetime
    recorded_by: str


def _named(work: Work) -> sa.Select[Any]:
    joined = analyses.join(cylinders, cylinders.c.id == analyses.c.cylinder_id)
    return work.select(analyses, *analyses.c, cylinders.c.serial.label("cylinder")).select_from(joined)


def insert(work: Work, **values: Any) -> int:
    """Keep a result; answers its id."""
    return work.insert(analyses, **values)


def by_id(work: Work, analysis_id: int) -> Analysis | None:
    """The result of that id."""
    return work.one(_named(work).where(analyses.c.id == analysis_id), Analysis)


def page(work: Work, request: PageRequest, *, serial: str | None = None) -> Page[Analysis]:
    """Results, newest first."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    return fetch_page(work, statement, analyses.c.id, Analysis, request, newest_first=True)


def everything(work: Work, kinds: Collection[str] | None = None) -> list[Analysis]:
    """Every result, or those of some kinds, oldest first."""
    statement = _named(work).order_by(analyses.c.id)
    return work.all(statement if kinds is None else statement.where(analyses.c.kind.in_(kinds)), Analysis)


def of_epoch(work: Work, cylinder_id: int, epoch: int) -> list[Analysis]:
    """Every result on one cylinder's contents of one epoch, oldest first."""
    about = (analyses.c.cylinder_id == cylinder_id, analyses.c.epoch == epoch)
    return work.all(_named(work).where(*about).order_by(analyses.c.id), Analysis)


def newest_verdict(work: Work, cylinder_id: int, epoch: int) -> int | None:
    """The id of the newest verdict on one cylinder's contents of one epoch."""
    about = (verdicts.c.cylinder_id == cylinder_id, verdicts.c.epoch == epoch)
    found = work.select(verdicts, sa.func.max(verdicts.c.id)).where(*about)
    newest: int | None = work.connection.execute(found).scalar_one_or_none()
    return newest
