"""Judge cylinders by everything that the store has of them, with a constant number of queries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from service.codes import Severity
from service.cylinders.boiling import Recent
from service.cylinders.contents import Contents
from service.cylinders.judgement.causes import Course, Inflow, Kind, Live, Stood
from service.cylinders.judgement.judge import Judgement, judge
from service.operations import cylinder_state
from service.operations.cylinder_state import INSPECTION, Known
from service.operations.support import calendar
from service.operations.support import contents as recorded
from service.operations.support import inflows as flows
from service.operations.support.atmosphere import atmosphere_at
from service.operations.support.context import Actor, Services
from service.operations.support.lookup import by_serial
from service.store import alarms, overview, pairs
from service.store.alarms import Alarm
from service.store.cylinders import Cylinder
from service.store.live import stated_gauge_pa
from service.store.overview import Attached
from service.store.pairs import StoredPair
from service.store.work import Work
from service.units import pa_from_kpa

FRESH = timedelta(minutes=15)
"""Live values older than this say nothing about now."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A cylinder with its judgement and the rows that it rests on."""

    known: Known
    judgement: Judgement
    attached: Attached | None
    alarms: tuple[Alarm, ...]
    inflow: Inflow | None = None

    @property
    def row(self) -> Cylinder:
        """The cylinder as registered."""
        return self.known.cylinder


def of_serial(services: Services, actor: Actor, serial: str) -> Judged:
    """One cylinder, judged now."""
    with services.database.reading(actor.organisation_id) as work:
        return of(services, work, by_serial(work, serial))


def of(services: Services, work: Work, cylinder: Cylinder, *, contents: Contents | None = None) -> Judged:
    """One cylinder, judged in somebody's transaction; ``contents`` are taken instead of what the store has."""
    instead = {} if contents is None else {cylinder.id: contents}
    return of_all(services, work, [cylinder], contents=instead)[0]


def of_all(
    services: Services,
    work: Work,
    rows: Sequence[Cylinder],
    *,
    recent: Mapping[int, Recent] | None = None,
    contents: Mapping[int, Contents] | None = None,
) -> list[Judged]:
    """
    Cylinders judged now, in the same order.

    Parameters
    ----------
    services, work
        What may be used, and the open transaction.
    rows
        The cylinders.
    recent
        What the devices said of late, by cylinder, where it may show that liquid boils off.
    contents
        Taken instead of what the store has, by cylinder.
    """
    at, ids = services.now(), [row.id for row in rows]
    known = cylinder_state.known_of(services, work, rows)
    attached, stood = overview.attached(work, ids), alarms.open_by_cylinder(work, ids)
    dry = {
        one.cylinder.id: one.cylinder.epoch
        for one in known
        if one.state.measured is not None and one.state.measured.contents == "vapour-only"
    }
    spoken = pairs.last_two(work, dry)
    inflows = _inflows(work, attached, stood, at)
    rulebook, today, found = services.knowledge, calendar.today(services, work), []
    for one in known:
        cylinder_id = one.cylinder.id
        open_ones, flow = stood.get(cylinder_id, []), inflows.get(cylinder_id)
        state = one.state
        if contents and cylinder_id in contents:
            state = replace(state, contents=contents[cylinder_id])
        judgement = judge(
            state,
            rulebook,
            on=today,
            live=_live(services, attached.get(cylinder_id), at, (recent or {}).get(cylinder_id), flow),
            course=_course(one, spoken.get(cylinder_id, [])),
            stood={alarm.code: _stood(alarm) for alarm in open_ones},
        )
        found.append(Judged(one, judgement, attached.get(cylinder_id), tuple(open_ones), flow))
    return found


def _stood(alarm: Alarm) -> Stood:
    severity = alarm.severity if alarm.severity in (Severity.CRITICAL, Severity.WARNING) else Severity.NOTICE
    text = alarm.text.removeprefix(f"Cylinder {alarm.cylinder}: ")
    return Stood(severity, alarm.raised_at, text, alarm.details or {})  # type: ignore[arg-type]


def _inflows(
    work: Work, attached: Mapping[int, Attached], stood: Mapping[int, Sequence[Alarm]], at: datetime
) -> dict[int, Inflow]:
    """What runs into those with a device on them, or with a stop call that stands."""
    called = [one for one, noted in stood.items() if any(alarm.code == Kind.STOP_FILLING for alarm in noted)]
    ids = list(dict.fromkeys([*attached, *called]))
    return flows.of_all(work, attached, ids, at) if ids else {}


def _live(
    services: Services, attached: Attached | None, at: datetime, recent: Recent | None, inflow: Inflow | None
) -> Live:
    """What the devices say; without a hookup nothing is hot, stale or low."""
    if attached is None:
        return Live(inflow=inflow)
    if attached.at is None or attached.received_at is None:
        # Never heard: silent since somebody hooked it up, which may be long after what the hookup begins with.
        recorded_at = attached.recorded_at
        silent_s = None if recorded_at is None else (at - recorded_at).total_seconds()
        return Live(attached=True, silent_s=silent_s, recent=recent, inflow=inflow)
    # By arrival: a gateway that hands over the backlog of an outage is not silent, however old its stamps.
    silent_s = (at - attached.received_at).total_seconds()
    if at - attached.at > FRESH:
        return Live(attached=True, silent_s=silent_s, recent=recent, inflow=inflow)
    document = attached.document or {}
    reasons = document.get("reasons")
    return Live(
        attached=True,
        temp_k=attached.temp_k,
        gauge_pa=gauge_pa(services, attached),
        silent_s=silent_s,
        battery_percent=document.get("battery_percent"),
        devices_disagree=None if reasons is None else "devices-disagree" in reasons,
        recent=recent,
        inflow=inflow,
    )


def gauge_pa(services: Services, attached: Attached) -> float | None:
    """Gauge pressure that the devices on a cylinder show [Pa]: as stated, else against the air at its place."""
    document = attached.document or {}
    stated, absolute_kpa = stated_gauge_pa(document), document.get("absolute_pressure_kpa")
    if stated is not None or absolute_kpa is None:
        return stated
    return (
        pa_from_kpa(float(absolute_kpa))
        - atmosphere_at(services.policy.elevation_m(attached.elevation_m)).pressure_pa
    )


def _course(known: Known, spoken: Sequence[StoredPair]) -> Course:
    inspection = known.care.get(INSPECTION)
    lost = recorded.unexplained_loss_kg(known.cylinder, known.epoch)
    pressure_slope = temp_slope = None
    if len(spoken) == 2:
        pressure_slope, temp_slope = _slopes(*spoken)
    return Course(
        unexplained_loss_kg=lost,
        vapour_only=bool(spoken) if known.state.measured is not None else None,
        pressure_slope_per_h=pressure_slope,
        temp_slope_k_per_h=temp_slope,
        acted_at=recorded.acted_at(known.epoch),
        drawn_at=recorded.drawn_at(known.epoch),
        judged_at=known.verdict.reached_at if known.verdict is not None else None,
        inspected_at=inspection.occurred_at if inspection is not None and inspection.passed else None,
        weighed_at=recorded.weighed_at(known.cylinder, known.epoch),
        implausible=recorded.implausible(known.cylinder, known.epoch),
    )


def _slopes(first: StoredPair, last: StoredPair) -> tuple[float | None, float | None]:
    """How ln(P/T) [1/h] and temperature [K/h] changed between two pairs, if they are far enough apart."""
    hours = (last.settled_at - first.settled_at).total_seconds() / 3600.0
    if hours < 0.1:
        return None, None
    ratio = (last.pressure_pa / last.temp_k) / (first.pressure_pa / first.temp_k)
    return (ratio - 1.0) / hours, (last.temp_k - first.temp_k) / hours
