"""Use cases for what was heard and could not be read: it is shown, and after ten minutes it is an alarm."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.codes import AlarmCode, Severity
from service.mappings.mapping import MessageMapping
from service.mappings.trial import try_on
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import NotFound
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, not_understood, organisations
from service.store.alarms import Alarm
from service.store.not_understood import NotUnderstood
from service.store.paging import Page, PageRequest
from service.store.work import Work

ALARM_AFTER = timedelta(minutes=10)
"""So long somebody who is setting a gateway up is left alone."""
QUIET_AFTER = timedelta(minutes=10)
"""What has not been heard for so long is over: mended, or switched off."""
SHOWN_FOR = timedelta(hours=1)
MOST_KEPT, MOST_SHOWN = 500, 20


@dataclass(frozen=True, slots=True)
class Unread:
    """What a worker could not read, of one device or topic and for one reason, since it last said so."""

    source: str
    reason: str
    detail: str
    example: str
    partly: bool
    count: int
    first_seen_at: datetime
    last_seen_at: datetime
    place: str | None = None
    topic: str | None = None
    message: object | None = None


def note(work: Work, unread: Sequence[Unread], at: datetime) -> None:
    """Keep what a worker could not read; only the newest are kept, for a gateway may make up names for ever."""
    if not unread:
        return
    rows = {
        (one.source, one.reason): {name: getattr(one, name) for name in Unread.__slots__} for one in unread
    }
    not_understood.note(work, list(rows.values()), at - SHOWN_FOR)
    not_understood.keep_newest(work, MOST_KEPT)


def listed(services: Services, actor: Actor, request: PageRequest) -> Page[NotUnderstood]:
    """All that is kept."""
    with services.database.reading(actor.organisation_id) as work:
        return not_understood.page(work, request)


def of_late(services: Services, actor: Actor) -> list[NotUnderstood]:
    """What was heard within the hour, the last one first."""
    with services.database.reading(actor.organisation_id) as work:
        return not_understood.since(work, services.now() - SHOWN_FOR, MOST_SHOWN)


def read(services: Services, actor: Actor, number: int) -> NotUnderstood:
    """One of them, or ``NotFound``."""
    with services.database.reading(actor.organisation_id) as work:
        found = not_understood.by_id(work, number)
    if found is None:
        raise NotFound("message that was not understood", number)
    return found


def forget_read(work: Work, mapping: MessageMapping) -> None:
    """Show no longer what a mapping reads; what it does not read comes again."""
    read_now = [
        one.id
        for one in not_understood.with_messages(work)
        if one.topic and not try_on(mapping, one.topic, one.message, one.last_seen_at.timestamp()).faults
    ]
    not_understood.forget(work, read_now)


def review(services: Services) -> None:
    """Raise an alarm for each source of which nothing has been read for ten minutes, and clear those that ended."""
    at = services.now()
    with services.database.engine.connect() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        with services.database.writing(owner) as work:
            _review(work, Actor(owner, "service:watch", "administrator"), at)


def _review(work: Work, actor: Actor, at: datetime) -> None:
    heard = not_understood.since(work, at - QUIET_AFTER, MOST_KEPT)
    due = {one.source: one for one in heard if not one.partly and at - one.first_seen_at >= ALARM_AFTER}
    open_ones = {
        alarm.device: alarm for alarm in alarms.open_ones(work) if alarm.code == AlarmCode.NOT_UNDERSTOOD
    }
    for source, one in due.items():
        if source not in open_ones:
            _raise(work, actor, at, one)
    for device, alarm in open_ones.items():
        if device not in due:
            _clear(work, actor, at, alarm)


def _raise(work: Work, actor: Actor, at: datetime, one: NotUnderstood) -> None:
    text = (
        f"{one.source} is heard but cannot be read: {one.detail}. Nothing of it reaches a cylinder until its "
        "messages or the mapping are mended; the devices page shows an example."
    )
    details = {"reason": one.reason}
    alarm = alarms.insert(
        work,
        code=AlarmCode.NOT_UNDERSTOOD,
        severity=Severity.WARNING,
        device=one.source,
        text=text,
        details=details,
        raised_at=at,
    )
    told = {
        "alarm": alarm,
        "code": AlarmCode.NOT_UNDERSTOOD,
        "severity": Severity.WARNING,
        "text": text,
        "device": one.source,
    }
    tell(work, actor, at, ALARM_RAISED, f"alarms/{alarm}", told)


def _clear(work: Work, actor: Actor, at: datetime, alarm: Alarm) -> None:
    alarms.clear(work, alarm.id, at)
    told = {
        "alarm": alarm.id,
        "code": AlarmCode.NOT_UNDERSTOOD,
        "severity": alarm.severity,
        "text": alarm.text,
    }
    tell(work, actor, at, ALARM_CLEARED, f"alarms/{alarm.id}", {**told, "device": alarm.device})
