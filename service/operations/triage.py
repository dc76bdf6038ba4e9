"""An inherited van: cylinders entered by serial alone, each with the step that comes next."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

from service.cylinders.markings import read_marks
from service.cylinders.triage import Facts, Progress, progress
from service.operations import cylinders, places
from service.operations.cylinders import CylinderFields
from service.operations.support import summaries
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.store import cylinders as stored
from service.store import triage
from service.store.paging import LARGEST_PAGE
from service.store.summaries import Summary
from service.store.triage import Recorded
from service.store.work import Work


class Triaged(NamedTuple):
    """A cylinder and how far it is."""

    serial: str
    place: str | None
    progress: Progress

    @property
    def order(self) -> tuple[int, str]:
        """What needs most comes first."""
        return len(self.progress.done), self.serial


@dataclass(frozen=True, slots=True)
class TriagePage:
    """Some of them, and where to go on; None at the end."""

    items: list[Triaged]
    next: tuple[int, str] | None


def enter(services: Services, actor: Actor, serials: Sequence[str], *, place: str | None) -> list[Triaged]:
    """
    Take cylinders in by their serials alone, all or none.

    Raises
    ------
    Invalid
        When a serial stands in the list twice.
    Conflict
        When one is registered already; every one is told.
    """
    doubled = sorted({serial for serial in serials if list(serials).count(serial) > 1})
    if doubled:
        raise Invalid(FieldError("serials", doubled, "each serial once"))
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        known = [serial for serial in serials if stored.by_serial(work, serial) is not None]
        if known:
            raise Conflict(
                [Reason("serial-exists", f"Cylinder {one} is registered already.") for one in known]
            )
        for serial in serials:
            values: CylinderFields = {} if place is None else {"place": place}
            cylinders.register(services, actor, serial, values)
            told = {"change": "triage", "cylinder": serial}
            tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
        return _all(services, work, serials=serials)


def listed(
    services: Services,
    actor: Actor,
    *,
    place: str | None,
    unfinished_only: bool,
    limit: int = LARGEST_PAGE,
    after: tuple[int, str] | None = None,
) -> TriagePage:
    """Cylinders with their next step, those that need most first."""
    with services.database.reading(actor.organisation_id) as work:
        if place is not None:
            places.named(work, place)
        found = _all(services, work, place=place)
    wanted = [one for one in found if one.progress.next_step is not None or not unfinished_only]
    rest = sorted((one for one in wanted if after is None or one.order > after), key=lambda one: one.order)
    shown = rest[:limit]
    return TriagePage(shown, shown[-1].order if len(rest) > limit else None)


def _all(
    services: Services, work: Work, *, place: str | None = None, serials: Sequence[str] | None = None
) -> list[Triaged]:
    rows = triage.recorded(work, summaries.judged_by(services), place=place, serials=serials)
    if any(row.known is None for row in rows):
        unsaid = {one.cylinder_id: one for one in summaries.fresh(services, work)}
        rows = [_said(row, unsaid.get(row.id)) for row in rows]
    return [Triaged(row.serial, row.place, _progress(_facts(row, work.rule_book))) for row in rows]


def _said(row: Recorded, summary: Summary | None) -> Recorded:
    return row if summary is None else replace(row, known=summary.known, weighed=summary.weighed)


def _facts(row: Recorded, default_law: str) -> Facts:
    return Facts(
        marks_understood=_understood(row.marks, row.place_rule_book or default_law),
        has_capacity_and_tare=None not in (row.water_capacity_kg, row.tare_kg),
        weighed=bool(row.weighed),
        hooked_up=row.hooked_up,
        has_pairs=row.has_pairs,
        has_verdict=bool(row.known),
        labelled=row.labelled,
    )


# There are 128 answers, and thousands of cylinders.
_progress = lru_cache(maxsize=128)(progress)


@lru_cache(maxsize=4096)
def _understood(marks: str | None, law: str) -> bool:
    return read_marks(marks, law=law).understood
