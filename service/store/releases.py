"""Queries for released advice."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from service.store.tables import cylinders, releases
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Release:
    """Advice that a supervisor has released for the contents of one epoch."""

    id: int
    cylinder_id: int
    epoch: int
    code: str
    reason: str
    released_at: datetime
    released_by: str


def insert(
    work: Work, *, cylinder_id: int, epoch: int, code: str, reason: str, at: datetime, by: str
) -> Release:
    """Release an advice for the contents of an epoch."""
    values = {"cylinder_id": cylinder_id, "epoch": epoch, "code": code, "reason": reason}
    made = work.insert(releases, **values, released_at=at, released_by=by)
    return Release(made, cylinder_id, epoch, code, reason, at, by)


def of_present(work: Work, cylinder_ids: Collection[int]) -> dict[int, list[Release]]:
    """What is released for the present contents of these cylinders, by cylinder."""
    joined = releases.join(
        cylinders, (cylinders.c.id == releases.c.cylinder_id) & (cylinders.c.epoch == releases.c.epoch)
    )
    statement = work.select(releases).select_from(joined).where(releases.c.cylinder_id.in_(cylinder_ids))
    found: dict[int, list[Release]] = defaultdict(list)
    for release in work.all(statement.order_by(releases.c.id), Release):
        found[release.cylinder_id].append(release)
    return found
