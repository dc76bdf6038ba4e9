"""Verdicts reached again because an instrument was found wrong, or set right: one event each, listed by the alarm."""

from collections.abc import Callable
from typing import Any, Final

from service.codes import IdentityFinding
from service.operations import verdicts
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services
from service.store import alarms, organisations, rejudgements
from service.store import cylinders as stored
from service.store.verdicts import StoredVerdict
from service.store.work import Work

BATCH: Final = 3
"""So many verdicts are reached in one transaction: three tenths of a second each where their instruments have learned
much since, else one."""
LISTED: Final = 200


def review_all(services: Services, goes_on: Callable[[], bool] = lambda: True) -> None:
    """Work off what waits, of every owner; what somebody is changing just now waits for the next round."""
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        actor = Actor(owner, "service:watch", "administrator")
        while goes_on() and _some(services, actor):
            pass


def _some(services: Services, actor: Actor) -> bool:
    """Judge the next few; false where none is left that can be judged now."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        waiting = rejudgements.waiting(work, BATCH)
        rows = {one.id: one for one in stored.not_in_hand(work, {one.cylinder_id for one in waiting})}
        mine = [one for one in waiting if one.cylinder_id in rows]
        before = {key: verdicts.current(work, row) for key, row in rows.items()}
        found = {key: verdicts.reach(services, work, at, row, row.epoch, None) for key, row in rows.items()}
        for judged in review(services, work, actor, at, rows):
            verdicts.announce(work, actor, at, judged, found[judged.row.id])
        for one in mine:
            if one.alarm_id is not None:
                told = _told(rows[one.cylinder_id].serial, before[one.cylinder_id], found[one.cylinder_id])
                _list(work, one.alarm_id, told)
        rejudgements.done(work, [one.id for one in mine])
        return bool(mine)


def _told(serial: str, before: StoredVerdict | None, after: StoredVerdict | None) -> dict[str, str]:
    return {"cylinder": serial, "before": gist(before), "after": gist(after)}


def gist(verdict: StoredVerdict | None) -> str:
    """A verdict in a few words."""
    if verdict is None:
        return "nothing"
    named = (
        verdict.designation
        if verdict.identity_finding == IdentityFinding.IDENTIFIED
        else verdict.identity_finding
    )
    return f"{named}, {verdict.contamination_finding}"


def _list(work: Work, alarm_id: int, told: dict[str, str]) -> None:
    alarm = alarms.by_id(work, alarm_id)
    if alarm is None:
        return
    details: dict[str, Any] = dict(alarm.details or {})
    details["judged_anew"] = [*details.get("judged_anew", ()), told][:LISTED]
    alarms.detail(work, alarm_id, details)
