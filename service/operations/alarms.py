"""Use cases for alarms: read, acknowledged by people; ``attention`` raises and clears them."""

from service.operations import places
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import NotFound
from service.operations.support.events import ALARM_ACKNOWLEDGED
from service.operations.support.lookup import by_serial
from service.store import alarms
from service.store.alarms import Alarm, CauseCount
from service.store.paging import Page, PageRequest
from service.store.work import Work


def listed(
    services: Services,
    actor: Actor,
    request: PageRequest,
    *,
    open_only: bool,
    serial: str | None = None,
    place: str | None = None,
    code: str | None = None,
    severity: str | None = None,
) -> Page[Alarm]:
    """Alarms, newest first, of one cylinder, place, code or severity on request."""
    with services.database.reading(actor.organisation_id) as work:
        if serial is not None:
            by_serial(work, serial)
        if place is not None:
            places.named(work, place)
        return alarms.page(
            work,
            request,
            open_only=open_only,
            serial=serial,
            place=place,
            code=code,
            severity=severity,
            at_places=actor.places,
        )


def causes(services: Services, actor: Actor) -> list[CauseCount]:
    """What stands, counted by code and severity."""
    with services.database.reading(actor.organisation_id) as work:
        return alarms.causes(work)


def acknowledge_cause(services: Services, actor: Actor, code: str) -> int:
    """Note who has seen all that stand under a code; a danger is acknowledged alone. Answers how many."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        seen = alarms.acknowledge_cause(work, code, at=at, by=actor.name)
        for alarm in seen:
            told = {"alarm": alarm.id, "code": code, "cylinder": alarm.cylinder}
            tell(work, actor, at, ALARM_ACKNOWLEDGED, f"alarms/{alarm.id}", told)
        return len(seen)


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
