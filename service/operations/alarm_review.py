"""Bring cylinders' alarms to what is known now, in the transaction of whatever changed that."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from service.cylinders.alarm_signals import Observation
from service.cylinders.alarms import Change, changes
from service.cylinders.filling import worst_limit
from service.cylinders.properties import Knowledge, earliest_liquid_full_temp_k
from service.cylinders.requalification import requalification
from service.cylinders.state import IN_SERVICE, CylinderState
from service.operations import calendar, contents, states
from service.operations.context import Actor, Services, tell
from service.operations.events import ALARM_CLEARED, ALARM_RAISED
from service.operations.knowledge import knowledge
from service.operations.states import Known
from service.store import alarms, hookups, live, organisations, pairs
from service.store import cylinders as stored
from service.store.alarms import Alarm
from service.store.cylinders import Cylinder
from service.store.live import Live
from service.store.pairs import StoredPair
from service.store.work import Work, batched

FRESH = timedelta(minutes=15)
"""Live values older than this say nothing about now."""


@dataclass(frozen=True, slots=True)
class _Watched:
    """A cylinder with what its devices say, if any are on it."""

    known: Known
    live: Live | None
    attached: bool


def review(services: Services, work: Work, actor: Actor, at: datetime, cylinder_ids: Collection[int]) -> None:
    """
    Raise and clear the alarms of some cylinders.

    The number of queries is constant, but for one more for each cylinder whose liquid is gone.

    A cylinder that somebody else is changing just now is left to that change, which reviews it too: so nobody
    waits, and no alarm is raised twice.

    Parameters
    ----------
    services, work, actor, at
        What may be used, the open transaction, who acts, when.
    cylinder_ids
        Whose alarms.
    """
    rows = stored.not_in_hand(work, cylinder_ids)
    if not rows:
        return
    rulebook, standing = knowledge(services), alarms.standing_by_cylinder(work, cylinder_ids)
    for one in _gather(services, work, rows):
        cylinder = one.known.cylinder
        active = {alarm.code: alarm for alarm in standing.get(cylinder.id, [])}
        severities = {code: alarm.severity for code, alarm in active.items()}
        for change in changes(severities, _observe(work, rulebook, one, at)):
            _apply(work, actor, at, cylinder, change, active.get(change.kind))


def sweep(services: Services) -> None:
    """Review every cylinder of every owner: what goes stale or overdue does so by time alone."""
    with services.database.unowned() as connection:
        owners = organisations.ids(connection)
    for owner in owners:
        actor = Actor(owner, "service:watch", "administrator")
        with services.database.reading(owner) as work:
            everyone = [cylinder.id for cylinder in stored.everything(work)]
        for some in batched(everyone):
            with services.database.writing(owner) as work:
                review(services, work, actor, services.now(), some)


def _gather(services: Services, work: Work, rows: Sequence[Cylinder]) -> list[_Watched]:
    attached = hookups.active_by_cylinder(work, [row.id for row in rows])
    newest = live.of_hookups(work, [one.id for found in attached.values() for one in found])
    watched = []
    for known in states.known_of(services, work, rows):
        ids = [one.id for one in attached.get(known.cylinder.id, [])]
        watched.append(_Watched(known, _newest(newest, ids), bool(ids)))
    return watched


def _newest(snapshots: Mapping[int, Live], hookup_ids: Sequence[int]) -> Live | None:
    found = [snapshots[one] for one in hookup_ids if one in snapshots]
    return max(found, key=lambda one: one.at, default=None)


def _observe(work: Work, rulebook: Knowledge, one: _Watched, at: datetime) -> Observation:
    known = one.known
    state, verdict = known.state, known.verdict
    limit_kg, full_at = _filling(state, rulebook)
    seen = Observation(
        service_pressure_pa=state.marks.service_pressure_pa,
        liquid_full_temp_k=full_at,
        liquid_full=verdict is not None and verdict.contents_finding == "liquid-full",
        net_mass_kg=state.contents.mass_kg,
        limit_kg=limit_kg,
        contamination=_contamination(known),
        requalification=_requalification(known, calendar.local_date(work, at)),
        unexplained_loss_kg=contents.unexplained_loss_kg(known.cylinder, known.epoch),
    )
    return _with_leak(work, known, _with_live(one, seen, at))


def _filling(state: CylinderState, rulebook: Knowledge) -> tuple[float | None, float | None]:
    """The filling limit [kg] and the temperature at which the present mass is liquid-full [K]."""
    names, capacity, net = state.possible, state.water_capacity_kg, state.contents.mass_kg
    if not names or not capacity:
        return None, None
    limit = worst_limit(names, capacity, rulebook, marks=state.marks).mass_kg
    if not net:
        return limit, None
    full_at = earliest_liquid_full_temp_k(
        rulebook.saturation, names, net_mass_kg=net, water_capacity_kg=capacity
    )
    return limit, full_at


def _requalification(known: Known, on: date) -> str | None:
    """The state against the date; a cylinder that left the shop's service is nobody's alarm."""
    if known.state.standing != IN_SERVICE:
        return "current"
    if known.state.dates.stamp is None and known.state.dates.stated_due_on is None:
        return None
    return str(requalification(known.state.marks, known.state.dates, on=on).state)


def _with_live(one: _Watched, seen: Observation, at: datetime) -> Observation:
    """Add what the devices say; without a hookup nothing is hot, stale or low."""
    snapshot = one.live
    if not one.attached:
        return replace(
            seen, temp_k=0.0, gauge_pa=-1.0, silent_s=0.0, battery_percent=100.0, devices_disagree=False
        )
    if snapshot is None:
        return seen
    # By arrival: a gateway that hands over the backlog of an outage is not silent, however old its stamps.
    silent = (at - snapshot.received_at).total_seconds()
    if at - snapshot.at > FRESH:
        return replace(seen, silent_s=silent)
    document = snapshot.document
    reasons = document.get("reasons")
    return replace(
        seen,
        temp_k=snapshot.temp_k,
        gauge_pa=_gauge_pa(document),
        silent_s=silent,
        battery_percent=document.get("battery_percent"),
        devices_disagree=None if reasons is None else "devices-disagree" in reasons,
    )


def _with_leak(work: Work, known: Known, seen: Observation) -> Observation:
    """Add how the last two settled pairs of the epoch changed, once the liquid is gone."""
    verdict, cylinder = known.verdict, known.cylinder
    if verdict is None or verdict.contents_finding != "vapour-only":
        return seen if verdict is None else replace(seen, vapour_only=False)
    spoken = pairs.speaking(work, cylinder.id, cylinder.epoch, limit=2)
    if len(spoken) < 2:
        return seen
    return _slopes(seen, *spoken)


def _slopes(seen: Observation, first: StoredPair, last: StoredPair) -> Observation:
    hours = (last.settled_at - first.settled_at).total_seconds() / 3600.0
    if hours < 0.1:
        return seen
    ratio = (last.pressure_pa / last.temp_k) / (first.pressure_pa / first.temp_k)
    return replace(
        seen,
        vapour_only=True,
        pressure_slope_per_h=(ratio - 1.0) / hours,
        temp_slope_k_per_h=(last.temp_k - first.temp_k) / hours,
    )


def _contamination(known: Known) -> str | None:
    held = known.state.contents
    if held.is_mixed:
        return "mixed"
    if known.verdict is None:
        return "none-detected" if held.is_empty else None
    return known.verdict.contamination_finding


def _gauge_pa(document: Mapping[str, Any]) -> float | None:
    gauge = document.get("gauge_pressure_kpa")
    if gauge is not None:
        return float(gauge) * 1000.0
    absolute = document.get("absolute_pressure_kpa")
    return None if absolute is None else (float(absolute) - 101.325) * 1000.0


def _apply(
    work: Work, actor: Actor, at: datetime, cylinder: Cylinder, change: Change, standing: Alarm | None
) -> None:
    subject, text = f"cylinders/{cylinder.serial}", f"Cylinder {cylinder.serial}: {change.text}"
    told = {"code": str(change.kind), "severity": change.severity, "text": text, "cylinder": cylinder.serial}
    if standing is not None and change.raised:
        alarms.worsen(work, standing.id, severity=change.severity, text=text, details=dict(change.figures))
        tell(work, actor, at, ALARM_RAISED, subject, {"alarm": standing.id, **told})
    elif change.raised:
        raised = alarms.insert(
            work, code=str(change.kind), severity=change.severity, cylinder_id=cylinder.id, text=text,
            details=dict(change.figures), raised_at=at,
        )  # fmt: skip
        tell(work, actor, at, ALARM_RAISED, subject, {"alarm": raised, **told})
    elif standing is not None:
        alarms.clear(work, standing.id, at)
        tell(work, actor, at, ALARM_CLEARED, subject, {"alarm": standing.id, **told})
