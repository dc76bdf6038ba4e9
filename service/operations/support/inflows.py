"""What recoveries run into cylinders just now: weight and rate by the scale under each."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from service.cylinders import recovery as pure
from service.cylinders.judgement.causes import Inflow
from service.operations.support.weights import LIVE_FOR
from service.store import live, recoveries
from service.store.live import TracePoint
from service.store.overview import Attached
from service.store.recoveries import Fill
from service.store.work import Work

TRACE_EVERY = timedelta(seconds=15)
"""The trace keeps one point a span of this."""
TRACE_FOR = timedelta(seconds=pure.RATE_WINDOW_S)
LATEST_S = TRACE_EVERY.total_seconds() / 2.0
"""A point of the trace may be so much younger than its span's time says [s]."""


def of_all(
    work: Work, attached: Mapping[int, Attached], cylinder_ids: Sequence[int], at: datetime
) -> dict[int, Inflow]:
    """The inflow of each cylinder that a recovery fills; one query where none does."""
    turns = recoveries.filling(work, cylinder_ids)
    if not turns:
        return {}
    hookups = {one: attached[one].hookup_id for one in turns if one in attached}
    traces = live.traces_since(work, list(hookups.values()), at - TRACE_FOR - TRACE_EVERY)
    return {
        cylinder_id: _inflow(
            fill, mode, attached.get(cylinder_id), traces.get(hookups.get(cylinder_id, 0), []), at
        )
        for cylinder_id, (fill, mode) in turns.items()
    }


def scale(attached: Attached | None, at: datetime) -> tuple[float | None, datetime | None]:
    """Gross mass that the scale under a cylinder shows [kg], and when; None where none was heard within a minute."""
    if attached is None or attached.at is None or attached.at < at - LIVE_FOR:
        return None, None
    mass = (attached.document or {}).get("mass_kg")
    return (None, None) if mass is None else (float(mass), attached.at)


def _inflow(
    fill: Fill, mode: str, attached: Attached | None, trace: Sequence[TracePoint], at: datetime
) -> Inflow:
    gross, heard_at = scale(attached, at)
    rate = None
    if gross is not None and heard_at is not None:
        rate = _rate_kg_s(fill.begun_at or heard_at, trace, (heard_at, gross))
    return Inflow(gross, fill.target_gross_kg, rate, mode)


def _rate_kg_s(begun: datetime, trace: Sequence[TracePoint], last: tuple[datetime, float]) -> float | None:
    since = max(begun, last[0] - TRACE_FOR)
    # The trace's times are rounded: read as young as they may be, a rate comes out too high rather than too low.
    points = [
        ((point.at - begun).total_seconds() + LATEST_S, point.mass_kg)
        for point in trace
        if point.mass_kg is not None and since <= point.at < last[0] - timedelta(seconds=LATEST_S)
    ]
    return pure.fill_rate_kg_s([*points, ((last[0] - begun).total_seconds(), last[1])])
