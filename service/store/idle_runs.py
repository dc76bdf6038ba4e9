"""Queries for how devices on no cylinder have read."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.store.tables import idle_runs
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class IdleRun:
    """One device since it was left alone: what it showed less what is taken as true, [Pa] or [K] by the quantity."""

    id: int
    device: str
    quantity: str
    since: datetime
    last_at: datetime
    rounds: int
    total: float
    low: float
    high: float
    beside: int
    low_k: float | None
    high_k: float | None


def everything(work: Work) -> dict[tuple[str, str], IdleRun]:
    """Every run, by device and quantity."""
    return {(one.device, one.quantity): one for one in work.all(work.select(idle_runs), IdleRun)}


def insert(work: Work, **values: Any) -> None:
    """A run begins."""
    work.insert(idle_runs, **values)


def change(work: Work, run_id: int, **values: Any) -> None:
    """It goes on."""
    work.update(idle_runs, idle_runs.c.id == run_id, **values)


def end(work: Work, run_id: int) -> None:
    """The device was used, fell silent, or its reading was taken."""
    work.delete(idle_runs, idle_runs.c.id == run_id)
