"""Cylinders as the rules see them: rows of several tables put together, with a constant number of queries."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from service.cylinders.judgement.state import CylinderState, believe
from service.cylinders.markings import Marks, read_marks
from service.cylinders.requalification import (
    TOXIC_SERVICE,
    Condition,
    Dates,
    Requalification,
    for_contents,
    requalification,
)
from service.cylinders.requalification_stamp import BadStamp, Stamp, read_stamp
from service.operations import places
from service.operations.support import beliefs, calendar, contents
from service.operations.support.context import Actor, Services
from service.store import care, holds, releases, verdicts
from service.store import cylinders as stored
from service.store.care import Care
from service.store.cylinders import Cylinder, Epoch
from service.store.holds import Hold
from service.store.releases import Release
from service.store.verdicts import VerdictGist
from service.store.work import Work

INSPECTION = "inspection"
EVACUATION = "evacuation"
KINDS = (INSPECTION, EVACUATION)


@dataclass(frozen=True, slots=True)
class Known:
    """A cylinder with what the store has of its present contents."""

    cylinder: Cylinder
    epoch: Epoch
    verdict: VerdictGist | None
    state: CylinderState
    holds: tuple[Hold, ...]
    care: Mapping[str, Care]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of several cylinders, by cylinder."""

    epochs: Mapping[int, Epoch]
    verdicts: Mapping[int, VerdictGist]
    holds: Mapping[int, Sequence[Hold]]
    care: Mapping[tuple[int, str], Care]
    releases: Mapping[int, Sequence[Release]]


def of(services: Services, work: Work, cylinder: Cylinder) -> CylinderState:
    """One cylinder as the rules see it."""
    return of_all(services, work, [cylinder])[0]


def of_all(services: Services, work: Work, cylinders: Sequence[Cylinder]) -> list[CylinderState]:
    """Cylinders as the rules see them, in the same order."""
    return [known.state for known in known_of(services, work, cylinders)]


def known_of(services: Services, work: Work, cylinders: Sequence[Cylinder]) -> list[Known]:
    """Cylinders with the rows that their states are made of, in the same order."""
    ids = [cylinder.id for cylinder in cylinders]
    rows = _Rows(
        stored.present_epochs(work, ids),
        verdicts.gists(work, [c.verdict_id for c in cylinders if c.verdict_id is not None]),
        holds.in_force(work, ids),
        care.newest(work, KINDS, ids),
        releases.of_present(work, ids),
    )
    return [_known(services, work, cylinder, rows) for cylinder in cylinders]


def stamp_of(cylinder: Cylinder, on: date, law: str) -> Stamp | None:
    """The requalification stamp as read on a day; None where it is missing or cannot be read."""
    if not cylinder.requalification_stamp:
        return None
    try:
        return read_stamp(cylinder.requalification_stamp, on=on, law=law)
    except BadStamp:
        return None


def _known(services: Services, work: Work, cylinder: Cylinder, rows: _Rows) -> Known:
    epoch, verdict = rows.epochs[cylinder.id], rows.verdicts.get(cylinder.verdict_id or 0)
    cared = {kind: rows.care[cylinder.id, kind] for kind in KINDS if (cylinder.id, kind) in rows.care}
    held = tuple(rows.holds.get(cylinder.id, ()))
    state = _state(services, work, cylinder, epoch, verdict, held, cared)
    released = frozenset(release.code for release in rows.releases.get(cylinder.id, ()))
    return Known(cylinder, epoch, verdict, replace(state, released=released), held, cared)


def _state(
    services: Services,
    work: Work,
    cylinder: Cylinder,
    epoch: Epoch,
    verdict: VerdictGist | None,
    held: Sequence[Hold],
    cared: Mapping[str, Care],
) -> CylinderState:
    law = places.law_of(work, cylinder.place_rule_book)
    inspection, evacuation = cared.get(INSPECTION), cared.get(EVACUATION)
    what = beliefs.kept(cylinder, epoch)
    return CylinderState(
        serial=cylinder.serial,
        marks=_marks(cylinder.marks, law),
        water_capacity_kg=cylinder.water_capacity_kg,
        tare_kg=cylinder.tare_kg,
        dates=dates_of(cylinder, calendar.today(services, work), law),
        contents=contents.read(cylinder, epoch),
        label=cylinder.claimed_designation,
        claims=what.claims,
        carried=what.carried,
        assessment=what.assessment if verdict is None else beliefs.assessment_in(verdict),
        holds=tuple(hold.reason for hold in held),
        standing=cylinder.standing,
        flammable_marked=cylinder.flammable_marked,
        needs_consent_of=cylinder.owner if cylinder.owner and cylinder.owner_consents is False else None,
        inspected_on=calendar.local_date(work, inspection.occurred_at)
        if inspection and inspection.passed
        else None,
        vacuum_recorded=evacuation is not None and evacuation.epoch == cylinder.epoch,
        found_pressure_pa=what.found_pressure_pa,
        trust=services.policy.trust,
    )


@lru_cache(maxsize=4096)
def _marks(text: str | None, law: str) -> Marks:
    return read_marks(text, law=law)


def dates_of(cylinder: Cylinder, on: date, law: str) -> Dates:
    """What is stamped on a cylinder and stated by its owner about dates, as read on a day."""
    condition = cylinder.requalification_condition
    return Dates(
        stamp=stamp_of(cylinder, on, law),
        condition=Condition(condition) if condition else Condition.DEFAULT,
        owner_statement=cylinder.requalification_statement,
        stated_due_on=cylinder.requalify_by,
        service_life_ends=cylinder.service_life_ends,
        toxic_service=cylinder.claimed_designation in TOXIC_SERVICE,
    )


def requalifier(
    services: Services, actor: Actor, cylinders: Sequence[Cylinder]
) -> Callable[[Cylinder], Requalification]:
    """How these cylinders stand against their dates today; as many queries for all of them as for one."""
    with services.database.reading(actor.organisation_id) as work:
        today, default = calendar.today(services, work), work.rule_book
        # Only here the period depends on what may be in them.
        by_contents = [one for one in cylinders if (one.place_rule_book or default) == "eu"]
        known = known_of(services, work, by_contents) if by_contents else []
    inside = {one.cylinder.id: believe(one.state).believable for one in known}

    def stand(cylinder: Cylinder) -> Requalification:
        law = cylinder.place_rule_book or default
        dates = for_contents(dates_of(cylinder, today, law), inside.get(cylinder.id, ()))
        return requalification(read_marks(cylinder.marks, law=law), dates, on=today)

    return stand
