"""Whether the certificate that phones reach the board by lasts: an alarm of every owner before it ends."""

from datetime import timedelta

from service.codes import AlarmCode, Severity
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, organisations
from service.store.work import Work

SOON = timedelta(days=21)
"""It is renewed thirty days before its end; nine nights on which that failed are not chance."""
CRITICAL = timedelta(days=3)


def review(services: Services) -> None:
    """Raise, worsen or end the alarm by what the file says now; nothing where no certificate is named."""
    if services.surroundings.certificate is None:
        return
    end, now = services.surroundings.certificate_ends(), services.now()
    left = None if end is None else end - now
    told = None
    if end is None:
        told = "The certificate of the board cannot be read: phones may not reach it."
    elif end - now < SOON:
        told = f"The certificate of the board ends on {end:%Y-%m-%d}: phones cannot reach it from then on."
    severity = Severity.CRITICAL if left is None or left < CRITICAL else Severity.WARNING
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        with services.database.writing(owner) as work:
            _note(work, Actor(owner, "service:watch", "administrator"), services, told, severity)


def _note(work: Work, actor: Actor, services: Services, told: str | None, severity: str) -> None:
    at = services.now()
    opened = next(
        (alarm for alarm in alarms.open_ones(work) if alarm.code == AlarmCode.CERTIFICATE_ENDS), None
    )
    if told is None:
        if opened is not None:
            alarms.clear(work, opened.id, at)
            ended = {"alarm": opened.id, "code": AlarmCode.CERTIFICATE_ENDS}
            tell(work, actor, at, ALARM_CLEARED, f"alarms/{opened.id}", ended)
        return
    if opened is None:
        alarm_id = alarms.insert(
            work, code=AlarmCode.CERTIFICATE_ENDS, severity=severity, text=told, raised_at=at
        )
    elif severity == Severity.CRITICAL and opened.severity != Severity.CRITICAL:
        alarm_id = opened.id
        alarms.worsen(work, alarm_id, severity=severity, text=told, details={})
    else:
        return
    raised = {"alarm": alarm_id, "code": AlarmCode.CERTIFICATE_ENDS, "severity": severity, "text": told}
    tell(work, actor, at, ALARM_RAISED, f"alarms/{alarm_id}", raised)
