"""Whether there are backups: a failed or overdue one is an alarm of every owner."""

from collections.abc import Iterator
from datetime import timedelta

from service.codes import AlarmCode, Severity
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, heartbeats, organisations
from service.store.work import Work

PROCESS = "backup"
OVERDUE = timedelta(hours=36)
"""A nightly backup that is twelve hours late did not happen."""


def succeeded(services: Services) -> None:
    """Note that a backup was made and is whole; its alarm has no cause any more."""
    at = services.now()
    with services.database.unowned() as connection:
        heartbeats.beat(connection, PROCESS, at)
    for work, actor in _owners(services):
        for alarm_id in _open_ones(work):
            alarms.clear(work, alarm_id, at)
            told = {"alarm": alarm_id, "code": AlarmCode.BACKUP_FAILED}
            tell(work, actor, at, ALARM_CLEARED, f"alarms/{alarm_id}", told)


def failed(services: Services, why: str) -> None:
    """Raise the alarm, unless it stands."""
    at = services.now()
    text = (
        f"The backup failed: {why} Until there is a new one, a broken disk takes everything since the last."
    )
    for work, actor in _owners(services):
        if _open_ones(work):
            continue
        alarm_id = alarms.insert(
            work, code=AlarmCode.BACKUP_FAILED, severity=Severity.WARNING, text=text, raised_at=at
        )
        told = {
            "alarm": alarm_id,
            "code": AlarmCode.BACKUP_FAILED,
            "severity": Severity.WARNING,
            "text": text,
        }
        tell(work, actor, at, ALARM_RAISED, f"alarms/{alarm_id}", told)


def review(services: Services) -> None:
    """Raise the alarm when the last backup is too old; where none was ever made nobody asked for any."""
    with services.database.engine.connect() as connection:
        last = heartbeats.last(connection, PROCESS)
    if last is not None and services.now() - last > OVERDUE:
        failed(services, f"the last one is of {last:%Y-%m-%d %H:%M} UTC.")


def _owners(services: Services) -> Iterator[tuple[Work, Actor]]:
    with services.database.engine.connect() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        with services.database.writing(owner) as work:
            yield work, Actor(owner, "service:watch", "administrator")


def _open_ones(work: Work) -> list[int]:
    return [alarm.id for alarm in alarms.open_ones(work) if alarm.code == AlarmCode.BACKUP_FAILED]
