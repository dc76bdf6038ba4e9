"""Cylinders as the rules see them: rows of several tables put together, with a constant number of queries."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from service.cylinders.contents import Assessment
from service.cylinders.marks import read_marks
from service.cylinders.requalification import Condition, Dates, Requalification, requalification
from service.cylinders.stamping import BadStamp, Stamp, read_stamp
from service.cylinders.state import CylinderState
from service.operations import calendar, contents, places
from service.operations.context import Actor, Services
from service.store import care, holds, verdicts
from service.store import cylinders as stored
from service.store.care import Care
from service.store.cylinders import Cylinder, Epoch
from service.store.holds import Hold
from service.store.verdicts import StoredVerdict
from service.store.work import Work
from service.verdict.model import Verdict

INSPECTION = "inspection"
EVACUATION = "evacuation"
TOXIC_SERVICE = frozenset({"R-717", "R-764"})
"""Cylinders for these have the shorter period of ADR P200 for toxic gases."""
KINDS = (INSPECTION, EVACUATION)


@dataclass(frozen=True, slots=True)
class Known:
    """A cylinder with what the store has of its present contents."""

    cylinder: Cylinder
    epoch: Epoch
    verdict: StoredVerdict | None
    state: CylinderState


def of(services: Services, work: Work, cylinder: Cylinder) -> CylinderState:
    """One cylinder as the rules see it."""
    return of_all(services, work, [cylinder])[0]


def of_all(services: Services, work: Work, cylinders: Sequence[Cylinder]) -> list[CylinderState]:
    """Cylinders as the rules see them, in the same order."""
    return [known.state for known in known_of(services, work, cylinders)]


def known_of(services: Services, work: Work, cylinders: Sequence[Cylinder]) -> list[Known]:
    """Cylinders with the rows that their states are made of, in the same order."""
    ids = [cylinder.id for cylinder in cylinders]
    epochs = stored.present_epochs(work, ids)
    judged = verdicts.by_ids(work, [c.verdict_id for c in cylinders if c.verdict_id is not None])
    held = holds.in_force(work, ids)
    cared = care.newest(work, KINDS, ids)
    found = []
    for cylinder in cylinders:
        epoch, verdict = epochs[cylinder.id], judged.get(cylinder.verdict_id or 0)
        entries = {kind: cared[cylinder.id, kind] for kind in KINDS if (cylinder.id, kind) in cared}
        state = _state(services, work, cylinder, epoch, verdict, held.get(cylinder.id, []), entries)
        found.append(Known(cylinder, epoch, verdict, state))
    return found


def stamp_of(cylinder: Cylinder, on: date, law: str) -> Stamp | None:
    """The requalification stamp as read on a day; None where it is missing or cannot be read."""
    if not cylinder.requalification_stamp:
        return None
    try:
        return read_stamp(cylinder.requalification_stamp, on=on, law=law)
    except BadStamp:
        return None


def assessment_of(verdict: StoredVerdict | None) -> Assessment | None:
    """What the rules need of a verdict."""
    return None if verdict is None else assessment_in(verdict.found)


def assessment_in(verdict: Verdict) -> Assessment:
    """What the rules need of a verdict, stored or not."""
    contamination = verdict.contamination
    air = contamination.air if contamination.finding == "air" else None
    return Assessment(
        candidates=tuple(candidate.designation for candidate in verdict.identity.candidates),
        identity=verdict.identity.finding,
        contamination=contamination.finding,
        air_partial_pressure_pa=air.partial_pressure_pa if air else 0.0,
    )


def _state(
    services: Services,
    work: Work,
    cylinder: Cylinder,
    epoch: Epoch,
    verdict: StoredVerdict | None,
    held: Sequence[Hold],
    cared: dict[str, Care],
) -> CylinderState:
    law = places.law_of(work, cylinder.place_rule_book)
    inspection, evacuation = cared.get(INSPECTION), cared.get(EVACUATION)
    return CylinderState(
        serial=cylinder.serial,
        marks=read_marks(cylinder.marks, law=law),
        water_capacity_kg=cylinder.water_capacity_kg,
        tare_kg=cylinder.tare_kg,
        dates=dates_of(cylinder, calendar.today(services, work), law),
        contents=contents.read(cylinder, epoch),
        assessment=assessment_of(verdict),
        holds=tuple(hold.reason for hold in held),
        standing=cylinder.standing,
        flammable_marked=cylinder.flammable_marked,
        needs_consent_of=cylinder.owner if cylinder.owner and cylinder.owner_consents is False else None,
        inspected_on=calendar.local_date(work, inspection.occurred_at)
        if inspection and inspection.passed
        else None,
        vacuum_recorded=evacuation is not None and evacuation.epoch == cylinder.epoch,
    )


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


def requalifier(services: Services, actor: Actor) -> Callable[[Cylinder], Requalification]:
    """How cylinders stand against their dates today; one transaction for any number of them."""
    with services.database.reading(actor.organisation_id) as work:
        today, default = calendar.today(services, work), work.rule_book

    def stand(cylinder: Cylinder) -> Requalification:
        law = cylinder.place_rule_book or default
        return requalification(read_marks(cylinder.marks, law=law), dates_of(cylinder, today, law), on=today)

    return stand
