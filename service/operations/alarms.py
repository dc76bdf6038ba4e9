"""Use cases for alarms: raised and cleared with what gave rise to them, acknowledged by people."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from service.operations.context import Actor, Services, tell
from service.operations.errors import NotFound
from service.operations.events import ALARM_ACKNOWLEDGED, ALARM_CLEARED, ALARM_RAISED
from service.store import alarms
from service.store.alarms import Alarm
from service.store.cylinders import Cylinder
from service.store.paging import Page, PageRequest
from service.store.verdicts import StoredVerdict
from service.store.work import Work

VERDICT_CODES = frozenset({"mixed", "liquid-full"})


@dataclass(frozen=True, slots=True)
class Wanted:
    """An alarm that should stand now."""

    code: str
    severity: str
    text: str
    details: dict[str, Any] = field(default_factory=dict)


def settle(
    work: Work,
    actor: Actor,
    at: datetime,
    cylinder: Cylinder,
    codes: Collection[str],
    wanted: Sequence[Wanted],
) -> None:
    """
    Bring a cylinder's standing alarms to what is wanted, in somebody else's transaction.

    Parameters
    ----------
    work, actor, at
        The open transaction, who acts, when.
    cylinder
        Whose alarms.
    codes
        Those that this review answers for; others are left alone.
    wanted
        Of these codes; what stands and is not wanted is cleared, what is wanted and does not stand is raised.
    """
    standing = {a.code: a for a in alarms.standing(work, cylinder_id=cylinder.id) if a.code in codes}
    subject = f"cylinders/{cylinder.serial}"
    for want in wanted:
        if want.code not in standing:
            alarm_id = alarms.insert(
                work,
                code=want.code,
                severity=want.severity,
                cylinder_id=cylinder.id,
                text=want.text,
                details=want.details,
                raised_at=at,
            )
            told = {"alarm": alarm_id, "code": want.code, "severity": want.severity, "text": want.text}
            tell(work, actor, at, ALARM_RAISED, subject, {**told, "cylinder": cylinder.serial})
    for code, alarm in standing.items():
        if code not in {want.code for want in wanted}:
            alarms.clear(work, alarm.id, at)
            told = {"alarm": alarm.id, "code": code, "cylinder": cylinder.serial}
            tell(work, actor, at, ALARM_CLEARED, subject, told)


def review_verdict(
    work: Work, actor: Actor, at: datetime, cylinder: Cylinder, verdict: StoredVerdict
) -> None:
    """Raise or clear what a verdict alone says: liquid-full, mixed."""
    wanted = []
    if verdict.contents_finding == "liquid-full":
        text = (
            f"Cylinder {cylinder.serial} looks liquid-full: pressure rises by bars per kelvin. "
            "Keep it cool, do not close it in, recover some of it into another cylinder."
        )
        wanted.append(Wanted("liquid-full", "critical", text, {"verdict": verdict.id}))
    if verdict.contamination_finding == "mixed":
        text = f"Cylinder {cylinder.serial} looks mixed: put nothing in, and never vent it."
        wanted.append(Wanted("mixed", "warning", text, {"verdict": verdict.id}))
    settle(work, actor, at, cylinder, VERDICT_CODES, wanted)


def listed(services: Services, actor: Actor, request: PageRequest, *, standing_only: bool) -> Page[Alarm]:
    """Alarms, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return alarms.page(work, request, standing_only=standing_only)


def acknowledge(services: Services, actor: Actor, alarm_id: int) -> Alarm:
    """Note who has seen an alarm; the first one counts."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        alarm = _by_id(work, alarm_id)
        if alarm.acknowledged_at is None:
            alarms.acknowledge(work, alarm_id, at=at, by=actor.name)
            told = {"alarm": alarm_id, "code": alarm.code, "cylinder": alarm.cylinder}
            tell(work, actor, at, ALARM_ACKNOWLEDGED, f"alarms/{alarm_id}", told)
        return _by_id(work, alarm_id)


def _by_id(work: Work, alarm_id: int) -> Alarm:
    alarm = alarms.by_id(work, alarm_id)
    if alarm is None:
        raise NotFound("alarm", alarm_id)
    return alarm
