"""A hookup with its last live values."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.board import phrases
from service.board.quantities import SPACE, Quantities
from service.board.views import cards
from service.board.views.recovery import METHODS
from service.operations.support.judgements import Judged
from service.store.live import TimeLeft, stated_time_left

TOO_OLD = timedelta(minutes=2)
"""Values older than this are no ground to count down from."""
IN_HOURS_S = 6000.0
"""A longer wait is told in hours [s]."""


@dataclass(frozen=True, slots=True)
class Hooked:
    """The hookup as the page shows it."""

    id: int
    temperature: str
    pressure: str
    state_code: str
    state: str
    wait: str
    detail: str
    at: datetime | None
    reasons: tuple[str, ...]
    pressure_device: str
    temperature_device: str
    valve: str
    since: datetime


def hooked(judged: Judged, show: Quantities, now: datetime) -> Hooked | None:
    """Write the hookup with its last live values, which are of a moment before `now`."""
    at = judged.attached
    if at is None:
        return None
    said = at.document or {}
    code, words = cards.settling(at)
    details = []
    if said.get("good_to_k") is not None and code != "waiting":
        details.append(f"good to {show.span(said['good_to_k'])}")
    if said.get("battery_percent") is not None:
        details.append(f"battery {said['battery_percent']:.0f}{SPACE}%")
    if said.get("mass_kg") is not None:
        details.append(f"scale {show.mass(said['mass_kg'])}")
    return Hooked(
        id=at.hookup_id,
        temperature=show.temperature(at.temp_k),
        pressure=cards.live_pressure(at, show),
        state_code=code,
        state=words,
        wait=wait(stated_time_left(said), now - at.at) if at.at else "",
        detail=", ".join(details),
        at=at.at,
        reasons=tuple(phrases.remark(str(reason)) for reason in said.get("reasons") or ()),
        pressure_device=at.pressure_device,
        temperature_device=at.temperature_device,
        valve=METHODS.get(at.valve, at.valve),
        since=at.from_at,
    )


def wait(left: TimeLeft | None, passed: timedelta) -> str:
    """Say how long it will take, less what has passed since that was told; empty where nobody can tell."""
    passed_s = passed.total_seconds()
    if left is None or passed > TOO_OLD or passed_s >= left.most_s:
        return ""
    expected_s, least_s, most_s = (
        max(0.0, told - passed_s) for told in (left.expected_s, left.least_s, left.most_s)
    )
    if most_s <= 60.0:
        return "settled in less than a minute"
    if expected_s > IN_HOURS_S:
        about, least, most = _hours(expected_s), _hours(least_s), _hours(most_s)
        return f"settled in about {about}{SPACE}h, {least} to {most}"
    about_min, least_min = max(1, round(expected_s / 60.0)), math.floor(least_s / 60.0)
    most_min = max(about_min, math.ceil(most_s / 60.0))
    if least_min == 0:
        return f"settled in about {about_min}{SPACE}min, at most {most_min}"
    return f"settled in about {about_min}{SPACE}min, {least_min} to {most_min}"


def _hours(seconds: float) -> str:
    return f"{seconds / 3600.0:.1f}"
