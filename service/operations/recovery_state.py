"""Use cases for looking at recoveries: what stands on the scale now, what to do, what the end will ask for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from service.cylinders import recovery as pure
from service.cylinders.recovery import Call, Plan
from service.operations import judgements, recoveries, recovery_end
from service.operations.context import Actor, Services
from service.operations.judgements import Judged
from service.operations.live import TRACE_EVERY
from service.operations.lookup import by_serial
from service.operations.recovery_end import Asked
from service.operations.weights import LIVE_FOR
from service.store import live
from service.store import recoveries as stored
from service.store.paging import Page, PageRequest
from service.store.recoveries import Fill, Recovery
from service.store.work import Work

State = Literal["filling", "no-cylinder", "ended"]
TRACE_FOR = timedelta(seconds=pure.RATE_WINDOW_S)
LATEST_S = TRACE_EVERY.total_seconds() / 2.0
"""A point of the trace may be so much younger than its span's time says [s]."""


@dataclass(frozen=True, slots=True)
class Now:
    """
    What the cylinder under way shows.

    Parameters
    ----------
    fill
        The cylinder under way.
    gross_kg
        On its scale [kg]; None where none was heard within a minute.
    heard_at
        When.
    rate_kg_s
        As measured over the last two minutes [kg/s].
    call
        What to do.
    temp_k, gauge_pa
        Wall temperature [K] and gauge pressure [Pa] of the cylinder now; None where not heard.
    others
        What else needs somebody at this cylinder, in words.
    """

    fill: Fill
    gross_kg: float | None
    heard_at: datetime | None
    rate_kg_s: float | None
    call: Call
    temp_k: float | None = None
    gauge_pa: float | None = None
    others: tuple[str, ...] = ()

    @property
    def room_kg(self) -> float | None:
        """Between the scale and the filling limit [kg]; None without a scale."""
        return None if self.gross_kg is None else max(0.0, self.fill.target_gross_kg - self.gross_kg)


@dataclass(frozen=True, slots=True)
class Course:
    """
    How a recovery stands.

    Parameters
    ----------
    recovery
        As begun, and as ended.
    fills
        Its cylinders in the order of use.
    plan
        What each took, and will take of the rest of the expected charge.
    recovered_kg
        Recorded, and what the scale shows beyond [kg].
    asked
        The vacuum at the end, or why nobody knows it.
    now
        The cylinder under way; None once it has ended, and while the next cylinder is still to be put on.
    """

    recovery: Recovery
    fills: tuple[Fill, ...]
    plan: Plan
    recovered_kg: float
    asked: Asked
    now: Now | None

    @property
    def state(self) -> State:
        """Filling, waiting for a cylinder, or ended."""
        if self.recovery.ended_at is not None:
            return "ended"
        return "no-cylinder" if self.now is None else "filling"


def listed(services: Services, actor: Actor, request: PageRequest, *, open_only: bool) -> Page[Recovery]:
    """Recoveries, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return stored.page(work, request, open_only=open_only)


def read(services: Services, actor: Actor, recovery_id: int) -> Course:
    """How one recovery stands now."""
    with services.database.reading(actor.organisation_id) as work:
        recovery = recoveries.by_id(work, recovery_id)
        fills = stored.fills_of(work, [recovery_id])
        used = [fill for fill in fills if fill.begun_at is not None]
        where = recovery_end.place_of(services, work, by_serial(work, used[-1].cylinder))
        present = recoveries.under_way(fills)
        now = None if present is None else _now(services, work, recovery, present)
    seen = 0.0
    if now is not None and now.gross_kg is not None:
        seen = max(0.0, now.gross_kg - (now.fill.gross_before_kg or 0.0))
    return Course(
        recovery, tuple(fills), pure.share_out(recovery.expected_kg, [_takes(fill) for fill in fills]),
        sum(fill.mass_kg or 0.0 for fill in fills) + seen, recovery_end.required(services, recovery, where.law), now,
    )  # fmt: skip


def _takes(fill: Fill) -> float:
    """What a cylinder took, or the room that it has [kg]."""
    return fill.room_kg if fill.ended_at is None else fill.mass_kg or 0.0


def _now(services: Services, work: Work, recovery: Recovery, fill: Fill) -> Now:
    judged = judgements.of(services, work, by_serial(work, fill.cylinder))
    gross, heard_at = _scale(services, judged)
    rate = None
    if judged.attached is not None and heard_at is not None and gross is not None:
        rate = _rate(work, judged.attached.hookup_id, fill, (heard_at, gross))
    told = pure.call(
        gross, _target(judged, fill), rate_kg_s=rate, method=recovery.mode, causes=judged.judgement.attention
    )
    others = tuple(cause.text for cause in judged.judgement.attention if cause.text not in told.causes)
    return Now(fill, gross, heard_at, rate, told, *_on_the_cylinder(services, judged), others)


def _scale(services: Services, judged: Judged) -> tuple[float | None, datetime | None]:
    attached = judged.attached
    if attached is None or attached.at is None or attached.at < services.now() - LIVE_FOR:
        return None, None
    mass = (attached.document or {}).get("mass_kg")
    return (None, None) if mass is None else (float(mass), attached.at)


def _on_the_cylinder(services: Services, judged: Judged) -> tuple[float | None, float | None]:
    attached = judged.attached
    if attached is None or attached.at is None or attached.at < services.now() - LIVE_FOR:
        return None, None
    return attached.temp_k, judgements.gauge_pa(attached.document or {})


def _rate(work: Work, hookup_id: int, fill: Fill, last: tuple[datetime, float]) -> float | None:
    begun = fill.begun_at or last[0]
    since = max(begun, last[0] - TRACE_FOR)
    course: Sequence[tuple[datetime, float]] = [
        (point.at, point.mass_kg)
        for point in live.trace_of(work, hookup_id, since=since)
        if point.mass_kg is not None and point.at < last[0] - timedelta(seconds=LATEST_S)
    ]
    # The trace's times are rounded: read as young as they may be, a rate comes out too high rather than too low.
    points = [((at - begun).total_seconds() + LATEST_S, mass) for at, mass in course]
    points = [*points, ((last[0] - begun).total_seconds(), last[1])]
    return pure.fill_rate_kg_s(points)


def _target(judged: Judged, fill: Fill) -> float:
    """The limit as it was when this cylinder's turn began, or a lower one that was learned since [kg]."""
    limit, tare = judged.judgement.filling.limit_kg, judged.row.tare_kg
    if limit is None or tare is None:
        return fill.target_gross_kg
    return min(fill.target_gross_kg, tare + limit)
