"""Use cases for care by hand: inspections, evacuations, requalifications, tests, results, labels, scrapping."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from service.codes import CareKind, Standing, TestKind
from service.cylinders.judgement.permits import FOUND_KG
from service.cylinders.requalification_stamp import BadStamp, read_stamp
from service.operations import analyses, holds, observing, places, verdicts
from service.operations.analyses import NewAnalysis
from service.operations.support import calendar, emptying, judgements
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.support.lookup import by_serial
from service.store import care
from service.store import cylinders as stored
from service.store.care import Care
from service.store.cylinders import Cylinder
from service.store.paging import Page, PageRequest
from service.store.work import Work

TESTS: tuple[str, ...] = tuple(TestKind)
KINDS: tuple[str, ...] = tuple(CareKind)


class Details(observing.Told, total=False):
    """What was found; which of it there is depends on the kind of entry."""

    note: str
    findings: Sequence[str]
    travelled: str
    vacuum_pa: float
    stamp: str
    test: str
    moisture_ppm: float
    laboratory: str
    designation: str
    other_refrigerants_percent: float
    non_condensables_percent: float
    receipt: str
    reason: str
    condemned: bool


@dataclass(frozen=True, slots=True)
class Entry:
    """
    Something done or seen.

    Parameters
    ----------
    serial
        Cylinder.
    kind
        One of ``KINDS``.
    passed
        How it came out, None where there is nothing to pass.
    details
        What was found, as the kind has it.
    occurred_at
        Now unless told.
    """

    serial: str
    kind: str
    passed: bool | None = None
    details: Details = field(default_factory=Details)
    occurred_at: datetime | None = None


def record(services: Services, actor: Actor, entry: Entry) -> Care:
    """
    Record an entry and what follows from it: a failed one puts the cylinder on hold.

    Raises
    ------
    Invalid
        When it lies in the future, or a stamp cannot be read.
    Conflict
        When a cylinder is said to be evacuated and the reading or the scale says otherwise.
    NotFound
        When the cylinder is unknown.
    """
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, entry.serial, lock=True)
        at = services.now()
        occurred_at = calendar.moment("at", entry.occurred_at, at)
        if entry.kind == observing.KIND:
            seen = observing.checked(services, entry.details, cylinder.water_capacity_kg)
            entry = replace(entry, details=Details(**{**entry.details, **seen}))
        cylinder = _follow(services, work, cylinder, entry, at, occurred_at)
        care_id = care.insert(
            work, cylinder_id=cylinder.id, kind=entry.kind, epoch=cylinder.epoch, passed=entry.passed,
            details=dict(entry.details), occurred_at=occurred_at, recorded_at=at, recorded_by=actor.name,
        )  # fmt: skip
        told = {"change": entry.kind, "cylinder": entry.serial, "entry": care_id, "passed": entry.passed}
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{entry.serial}", {**told, **entry.details})
        _turned_out(services, work, actor, cylinder, entry, at)
        if entry.kind == observing.KIND:
            _judge_again(services, work, actor, at, cylinder)
        if entry.passed is False and entry.kind != "evacuation":
            holds.put(work, actor, at, cylinder, _why_held(entry))
        review(services, work, actor, at, [cylinder.id])
        return by_id(work, care_id)


def _turned_out(
    services: Services, work: Work, actor: Actor, cylinder: Cylinder, entry: Entry, at: datetime
) -> None:
    """A laboratory's result is kept beside the verdict that stood before; a named one is believed from now on."""
    told = entry.details
    composition = told.get("laboratory_composition")
    if composition is not None:
        parts = {part["designation"]: part["mass_fraction"] for part in composition["parts"]}
        uncertainty = composition["mass_fraction_uncertainty"]
        new = NewAnalysis(
            entry.serial, "laboratory", mass_fractions=parts, mass_fraction_uncertainty=uncertainty,
            sampled_at=entry.occurred_at,
        )  # fmt: skip
        # The observation itself is weighed with the readings.
        analyses.note_down(services, work, actor, cylinder, new, at)
    if entry.kind == "purity-result" and told.get("designation"):
        new = NewAnalysis(
            entry.serial, "laboratory", designation=told["designation"], laboratory=told.get("laboratory"),
            other_refrigerants_percent=told.get("other_refrigerants_percent"),
            non_condensables_percent=told.get("non_condensables_percent"),
            moisture_ppm=told.get("moisture_ppm"), number=told.get("receipt"), sampled_at=entry.occurred_at,
        )  # fmt: skip
        found = analyses.note_down(services, work, actor, cylinder, new, at)
        if found.epoch == cylinder.epoch:
            analyses.believe(services, work, actor, cylinder, found, at)


def _judge_again(services: Services, work: Work, actor: Actor, at: datetime, cylinder: Cylinder) -> None:
    """Judge the present readings with what was observed, and tell of the verdict."""
    verdict = verdicts.reach(services, work, at, cylinder, cylinder.epoch, None)
    judged = judgements.of(services, work, by_serial(work, cylinder.serial))
    verdicts.announce(work, actor, at, judged, verdict)


def listed(
    services: Services, actor: Actor, request: PageRequest, *, serial: str | None, kind: str | None
) -> Page[Care]:
    """Entries, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        if serial is not None:
            by_serial(work, serial)
        return care.page(work, request, serial=serial, kind=kind)


def by_id(work: Work, care_id: int) -> Care:
    """The entry of that id, or ``NotFound``."""
    found = care.by_id(work, care_id)
    if found is None:
        raise NotFound("entry", care_id)
    return found


def _follow(
    services: Services, work: Work, cylinder: Cylinder, entry: Entry, at: datetime, occurred_at: datetime
) -> Cylinder:
    """Change the cylinder as the entry demands; answers it as it is then."""
    match entry.kind:
        case "evacuation":
            vacuum_pa = entry.details.get("vacuum_pa")
            emptying.evacuate(services, work, cylinder, vacuum_pa, at, occurred_at)
        case "requalification":
            _requalify(services, work, cylinder, entry, at)
        case "scrapping":
            _scrap(services, work, cylinder, entry, at)
        case _:
            return cylinder
    return by_serial(work, cylinder.serial)


def _scrap(services: Services, work: Work, cylinder: Cylinder, entry: Entry, at: datetime) -> None:
    """Take it out of service; what is in it has to be recovered first."""
    if cylinder.standing != Standing.IN_SERVICE:
        raise Conflict([Reason("out-of-service", f"Cylinder {cylinder.serial} is {cylinder.standing}.")])
    judgement = judgements.of(services, work, cylinder).judgement
    held = judgement.state.net_mass_kg
    if not judgement.belief.is_empty and (held is None or held > FOUND_KG):
        in_it = "an amount that was never weighed" if held is None else f"{held:.2f} kg"
        text = f"By record and scale {in_it} of {judgement.name.text} is in it: recover that first."
        raise Conflict([Reason("not-empty", text)])
    standing = Standing.CONDEMNED if entry.details.get("condemned") else Standing.SCRAPPED
    stored.change(work, cylinder, at=at, standing=standing)


def _requalify(services: Services, work: Work, cylinder: Cylinder, entry: Entry, at: datetime) -> None:
    """Take the new stamp; a failed test condemns the cylinder and stamps nothing."""
    if entry.passed is False:
        stored.change(work, cylinder, at=at, standing=Standing.CONDEMNED)
        return
    text = entry.details.get("stamp", "")
    law = places.law_of(work, cylinder.place_rule_book)
    try:
        stamp = read_stamp(text, on=calendar.today(services, work), law=law)
    except BadStamp as error:
        raise Invalid(FieldError("stamp", text, error.expected)) from error
    present = cylinder.requalification_stamp
    if present:
        try:
            old = read_stamp(present, on=calendar.today(services, work), law=law)
        except BadStamp:
            old = None
        if old is not None and (stamp.year, stamp.month) < (old.year, old.month):
            raise Invalid(FieldError("stamp", text, f"a stamp not older than the present one, {present}"))
    stored.change(work, cylinder, at=at, requalification_stamp=text, requalify_by=None)


def _why_held(entry: Entry) -> str:
    words = ", ".join(entry.details.get("findings", ())) or entry.details.get("note", "")
    return f"{entry.kind} failed" + (f": {words}" if words else "")
