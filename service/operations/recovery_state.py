"""Use cases for looking at recoveries: what stands on the scale now, what to do, what the end will ask for."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from service.cylinders import recovery as pure
from service.cylinders.judgement.causes import Kind
from service.cylinders.recovery import Call, Plan
from service.operations import recoveries, recovery_end
from service.operations.recovery_end import Asked
from service.operations.support import inflows, judgements
from service.operations.support.context import Actor, Services
from service.operations.support.judgements import Judged
from service.operations.support.lookup import by_serial
from service.operations.support.weights import LIVE_FOR
from service.store import recoveries as stored
from service.store.paging import Page, PageRequest
from service.store.recoveries import Fill, Recovery
from service.store.work import Work

State = Literal["filling", "no-cylinder", "ended"]


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
        now = None if present is None else _now(services, work, present, recovery.mode)
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


def _now(services: Services, work: Work, fill: Fill, mode: str) -> Now:
    judged = judgements.of(services, work, by_serial(work, fill.cylinder))
    at, attached = services.now(), judged.attached
    gross, heard_at = inflows.scale(attached, at)
    rate = judged.inflow.rate_kg_s if judged.inflow is not None else None
    attention = judged.judgement.attention
    told = pure.call(gross, _target(judged, fill), rate_kg_s=rate, method=mode, causes=attention)
    others = tuple(
        cause.text
        for cause in attention
        if cause.text not in told.causes and cause.kind is not Kind.STOP_FILLING
    )
    temp_k = gauge_pa = None
    if attached is not None and attached.at is not None and attached.at >= at - LIVE_FOR:
        temp_k, gauge_pa = attached.temp_k, judgements.gauge_pa(services, attached)
    return Now(fill, gross, heard_at, rate, told, temp_k, gauge_pa, others)


def _target(judged: Judged, fill: Fill) -> float:
    """The limit as it was when this cylinder's turn began, or a lower one that was learned since [kg]."""
    limit, tare = judged.judgement.filling.limit_kg, judged.row.tare_kg
    if limit is None or tare is None:
        return fill.target_gross_kg
    return min(fill.target_gross_kg, tare + limit)
