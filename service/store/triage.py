"""Query for triage: what the record has of each cylinder in service, in one statement and one short row each."""

from collections.abc import Collection
from dataclasses import dataclass

from service.codes import Standing
from service.store import summaries as kept
from service.store.tables import care, cylinders, hookups, pairs, places, summaries
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class Recorded:
    """A cylinder with what was recorded of it; ``known`` and ``weighed`` are None where no summary speaks for it."""

    id: int
    serial: str
    place: str | None
    place_rule_book: str | None
    marks: str | None
    water_capacity_kg: float | None
    tare_kg: float | None
    known: bool | None
    weighed: bool | None
    hooked_up: bool
    has_pairs: bool
    labelled: bool


def recorded(
    work: Work, judged_by: str, *, place: str | None = None, serials: Collection[str] | None = None
) -> list[Recorded]:
    """Cylinders in service, of one place or of these serials on request."""
    c = cylinders.c
    joined = cylinders.outerjoin(places, places.c.id == c.place_id)
    joined = joined.outerjoin(summaries, kept.current(work, judged_by))
    of_it = (c.id, c.serial, c.marks, c.water_capacity_kg, c.tare_kg)
    statement = work.select(
        cylinders, *of_it, places.c.name.label("place"), places.c.rule_book.label("place_rule_book"),
        summaries.c.known, summaries.c.weighed,
        c.id.in_(work.select(hookups, hookups.c.cylinder_id).where(hookups.c.to_at.is_(None))).label("hooked_up"),
        c.id.in_(work.select(pairs, pairs.c.cylinder_id).where(pairs.c.provisional.is_(False))).label("has_pairs"),
        c.id.in_(work.select(care, care.c.cylinder_id).where(care.c.kind == "label")).label("labelled"),
    ).select_from(joined).where(c.standing == Standing.IN_SERVICE)  # fmt: skip
    if place is not None:
        statement = statement.where(places.c.name == place)
    if serials is not None:
        statement = statement.where(c.serial.in_(serials))
    return work.all(statement, Recorded)
