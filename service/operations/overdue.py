"""Alarms for what a day alone makes due: a cylinder not back, a leak not repaired, an instrument not checked."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from service.codes import AlarmCode, Severity
from service.device_names import short
from service.operations import appliances
from service.operations.support import calendar
from service.operations.support.context import Actor, Services, tell
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.store import alarms, custody, hookups, instruments, organisations
from service.store.alarms import Alarm
from service.store.work import Work

IN_USE = timedelta(days=30)
"""An instrument that has been on no cylinder for so long need not be checked."""


@dataclass(frozen=True, slots=True)
class _Due:
    """What is overdue: its text, and the cylinder or the equipment that it is about."""

    text: str
    subject: str
    columns: Mapping[str, Any]


def review(services: Services) -> None:
    """Raise and clear the alarms of every owner."""
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        with services.database.writing(owner) as work:
            note(services, work, Actor(owner, "service:watch", "administrator"))


def note(services: Services, work: Work, actor: Actor) -> None:
    """Raise and clear the alarms of one owner, in an open transaction."""
    open_ones = alarms.open_ones(work)
    overdue = {
        AlarmCode.CUSTODY_OVERDUE: _custody(services, work),
        AlarmCode.REPAIR_OVERDUE: _repairs(services, work),
        AlarmCode.CHECK_DUE: _checks(services, work),
    }
    for code, due in overdue.items():
        noted = {str((alarm.details or {}).get("about")): alarm for alarm in open_ones if alarm.code == code}
        for about, one in due.items():
            if about not in noted:
                _raise(services, work, actor, code, about, one)
        for about, alarm in noted.items():
            if about not in due:
                _clear(services, work, actor, alarm, about)


def _custody(services: Services, work: Work) -> dict[str, _Due]:
    today = calendar.today(services, work)
    return {
        f"custody {one.id}": _Due(
            f"{one.cylinder} is with {one.holder} and was due back on {one.due_on}.",
            f"cylinders/{one.cylinder}", {"cylinder_id": one.cylinder_id},
        )
        for one in custody.due_before(work, today)
    }  # fmt: skip


def _repairs(services: Services, work: Work) -> dict[str, _Due]:
    found = {}
    for one in appliances.leak_statuses(services, work):
        by = one.rate.repair_by
        if one.rule is not None and by is not None and by < one.on:
            named = one.appliance
            text = (
                f"{named.name} at {named.location} leaks {100.0 * one.rate.rate:.0f} % a year; its repair was due "
                f"on {by} ({one.rule.citation})."
            )
            found[f"appliance {named.id}"] = _Due(text, f"appliances/{named.id}", {})
    return found


def _checks(services: Services, work: Work) -> dict[str, _Due]:
    """Instruments in use whose next check by hand was due."""
    at = services.now()
    used = hookups.devices_since(work, at - IN_USE)
    found = {}
    for one in instruments.newest_checks(work):
        if one.due_at is not None and one.due_at <= at and one.device in used:
            due, last = (calendar.local_date(work, moment) for moment in (one.due_at, one.checked_at))
            text = f"{short(one.device)} was due for a check on {due}; the last one was on {last}."
            found[f"instrument {one.device}"] = _Due(
                text, f"instruments/{one.device}", {"device": one.device, "cylinder_id": None}
            )
    return found


def _raise(services: Services, work: Work, actor: Actor, code: str, about: str, one: _Due) -> None:
    at = services.now()
    alarm = alarms.insert(
        work, code=code, severity=Severity.WARNING, text=one.text, details={"about": about, "subject": one.subject},
        raised_at=at, **one.columns,
    )  # fmt: skip
    told = {"alarm": alarm, "code": code, "severity": Severity.WARNING, "text": one.text}
    tell(work, actor, at, ALARM_RAISED, one.subject, told)


def _clear(services: Services, work: Work, actor: Actor, alarm: Alarm, about: str) -> None:
    at = services.now()
    alarms.clear(work, alarm.id, at)
    subject = str((alarm.details or {}).get("subject", about))
    told = {"alarm": alarm.id, "code": alarm.code, "severity": alarm.severity, "text": alarm.text}
    tell(work, actor, at, ALARM_CLEARED, subject, told)
