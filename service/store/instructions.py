"""Queries for instructions pinned to cylinders."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.store.paging import Page, PageRequest, fetch_page
from service.store.tables import cylinders, instructions
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Instruction:
    """What somebody asks of whoever is at a cylinder next, and what came of it."""

    id: int
    cylinder: str
    text: str
    pinned_at: datetime
    pinned_by: str
    done_at: datetime | None
    done_by: str | None
    answer: str | None


def _named(work: Work) -> sa.Select[Any]:
    joined = instructions.join(cylinders, cylinders.c.id == instructions.c.cylinder_id)
    columns = [instructions.c[name] for name in Instruction.__dataclass_fields__ if name != "cylinder"]
    return work.select(instructions, *columns, cylinders.c.serial.label("cylinder")).select_from(joined)


def insert(work: Work, *, cylinder_id: int, text: str, at: datetime, by: str) -> int:
    """Pin one; answers its id."""
    return work.insert(instructions, cylinder_id=cylinder_id, text=text, pinned_at=at, pinned_by=by)


def by_id(work: Work, instruction_id: int) -> Instruction | None:
    """The instruction of that id."""
    return work.one(_named(work).where(instructions.c.id == instruction_id), Instruction)


def page(work: Work, request: PageRequest, *, serial: str | None, open_only: bool) -> Page[Instruction]:
    """Instructions, newest first."""
    statement = _named(work)
    if serial is not None:
        statement = statement.where(cylinders.c.serial == serial)
    if open_only:
        statement = statement.where(instructions.c.done_at.is_(None))
    return fetch_page(work, statement, instructions.c.id, Instruction, request, newest_first=True)


def finish(work: Work, instruction_id: int, *, at: datetime, by: str, answer: str | None) -> None:
    """Note that it is done."""
    work.update(instructions, instructions.c.id == instruction_id, done_at=at, done_by=by, answer=answer)
