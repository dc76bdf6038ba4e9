"""Note down which causes begin, get worse and end, in the transaction of whatever changed that."""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime

import structlog

from service.codes import Severity
from service.cylinders.boiling import Recent
from service.cylinders.judgement.causes import Cause, Kind
from service.operations.support import judgements, summaries
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import ODD
from service.operations.support.events import ALARM_CLEARED, ALARM_RAISED
from service.operations.support.judgements import Judged
from service.store import alarms, organisations
from service.store import cylinders as stored
from service.store.alarms import Alarm
from service.store.cylinders import Cylinder
from service.store.work import Work, batched

log = structlog.get_logger(__name__)


class UnreviewedError(RuntimeError):
    """Some cylinders could not be judged in a sweep; the log says why of each."""

    def __init__(self, cylinder_ids: Sequence[int]) -> None:
        super().__init__(f"{len(cylinder_ids)} cylinders could not be judged, ids {list(cylinder_ids)[:10]}")


def review(
    services: Services,
    work: Work,
    actor: Actor,
    at: datetime,
    cylinder_ids: Collection[int],
    *,
    recent: Mapping[int, Recent] | None = None,
) -> list[Judged]:
    """
    Judge some cylinders and note down what needs somebody.

    The number of queries is constant. A cylinder that somebody else is changing just now is left to that change,
    which reviews it too: so nobody waits, and nothing is raised twice.

    Parameters
    ----------
    services, work, actor, at
        What may be used, the open transaction, who acts, when.
    cylinder_ids
        Which cylinders.
    recent
        What the devices said of late, by cylinder, where it may show that liquid boils off.

    Returns
    -------
    list of Judged
        Those that were reviewed.
    """
    rows = stored.not_in_hand(work, cylinder_ids)
    if not rows:
        return []
    judged = judgements.of_all(services, work, rows, recent=recent)
    for one in judged:
        _note(work, actor, at, one)
    summaries.keep(services, work, judged, at)
    return judged


def sweep(services: Services, goes_on: Callable[[], bool] = lambda: True) -> None:
    """
    Review every cylinder of every owner: what goes stale or overdue does so by time alone.

    Parameters
    ----------
    services
        What may be used.
    goes_on
        Asked before each transaction; false ends the sweep early.

    Raises
    ------
    UnreviewedError
        When cylinders could not be judged for a reason of their own; all others were reviewed.
    """
    unreviewed: list[int] = []
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        actor = Actor(owner, "service:watch", "administrator")
        with services.database.reading(owner) as work:
            everyone = [cylinder.id for cylinder in stored.everything(work)]
        for some in batched(everyone):
            if not goes_on():
                return
            unreviewed += _sweep_some(services, actor, some)
    if unreviewed:
        raise UnreviewedError(unreviewed)


def _sweep_some(services: Services, actor: Actor, cylinder_ids: Sequence[int]) -> list[int]:
    """Review together, or one by one where one spoils it for the others; answers those that it cannot be done for."""
    try:
        with services.database.writing(actor.organisation_id) as work:
            review(services, work, actor, services.now(), cylinder_ids)
    except ODD as error:
        if len(cylinder_ids) > 1:
            return [one for each in cylinder_ids for one in _sweep_some(services, actor, [each])]
        log.error("judgement.failed", cylinder_id=cylinder_ids[0], exc_info=error)
        return list(cylinder_ids)
    return []


def _note(work: Work, actor: Actor, at: datetime, one: Judged) -> None:
    noted = {alarm.code: alarm for alarm in one.alarms if alarm.code in set(Kind)}
    present = {str(cause.kind): cause for cause in one.judgement.attention}
    for code, cause in present.items():
        alarm = noted.get(code)
        if alarm is None:
            _raise(work, actor, at, one.row, cause)
        elif cause.severity == Severity.CRITICAL and alarm.severity != Severity.CRITICAL:
            _worsen(work, actor, at, one.row, cause, alarm)
    for code, alarm in noted.items():
        if code not in present:
            alarms.clear(work, alarm.id, at)
            told = {"code": code, "severity": alarm.severity, "text": alarm.text, "cylinder": one.row.serial}
            tell(work, actor, at, ALARM_CLEARED, f"cylinders/{one.row.serial}", {"alarm": alarm.id, **told})


def _raise(work: Work, actor: Actor, at: datetime, cylinder: Cylinder, cause: Cause) -> None:
    alarm_id = alarms.insert(
        work, code=str(cause.kind), severity=cause.severity, cylinder_id=cylinder.id,
        text=_text(cylinder, cause), details=dict(cause.figures), raised_at=at,
    )  # fmt: skip
    _tell_raised(work, actor, at, cylinder, cause, alarm_id)


def _worsen(work: Work, actor: Actor, at: datetime, cylinder: Cylinder, cause: Cause, alarm: Alarm) -> None:
    alarms.worsen(
        work, alarm.id, severity=cause.severity, text=_text(cylinder, cause), details=dict(cause.figures)
    )
    _tell_raised(work, actor, at, cylinder, cause, alarm.id)


def _tell_raised(
    work: Work, actor: Actor, at: datetime, cylinder: Cylinder, cause: Cause, alarm_id: int
) -> None:
    told = {
        "code": str(cause.kind),
        "severity": cause.severity,
        "text": _text(cylinder, cause),
        "cylinder": cylinder.serial,
        "details": dict(cause.figures),
    }
    tell(work, actor, at, ALARM_RAISED, f"cylinders/{cylinder.serial}", {"alarm": alarm_id, **told})


def _text(cylinder: Cylinder, cause: Cause) -> str:
    return f"Cylinder {cylinder.serial}: {cause.text}"
