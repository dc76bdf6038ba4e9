"""The control chart of a set: what it is believed to be off by after each lesson, between the limits of its class."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.board.quantities import Quantities, fixed
from service.board.scales import Axis, points, round_ticks

WIDTH, HEIGHT = 480, 230
LEFT, RIGHT, TOP, BOTTOM = 50, 12, 24, 190
LEAST_K = 0.5
"""The axis reaches at least so far either way [K]."""
Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Lesson:
    """What was believed after one lesson [K], with its 95 % half-width [K]; ``by_hand`` where it was a check."""

    at: datetime
    mean_k: float
    half_k: float
    by_hand: bool


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Everything the template draws."""

    unit: str
    line: str
    band: str
    checks: tuple[Spot, ...]
    last: Spot
    limits: tuple[float, ...]
    zero: float
    ticks: tuple[tuple[float, str], ...]
    time_ticks: tuple[tuple[float, datetime], ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def control_chart(lessons: Sequence[Lesson], limit_k: float, show: Quantities) -> ControlChart | None:
    """Lay out the lessons, oldest first; None with fewer than two moments."""
    if len(lessons) < 2 or lessons[0].at >= lessons[-1].at:
        return None
    scale = 1.8 if show.inch_pound else 1.0
    reach = max(LEAST_K, limit_k * 1.15, *(abs(one.mean_k) + one.half_k for one in lessons[1:])) * scale
    value = Axis(-reach, reach, BOTTOM, TOP)
    first, last = lessons[0].at, lessons[-1].at
    time = Axis(0.0, (last - first).total_seconds(), LEFT, WIDTH - RIGHT)
    xs = [time.place((one.at - first).total_seconds()) for one in lessons]

    def heights(factor: float) -> list[float]:
        return [
            value.place(min(max(scale * (one.mean_k + factor * one.half_k), -reach), reach))
            for one in lessons
        ]

    middle = heights(0.0)
    return ControlChart(
        unit="°F" if show.inch_pound else "K",
        line=points(xs, middle),
        band=f"{points(xs, heights(1.0))} {points(xs[::-1], heights(-1.0)[::-1])}",
        checks=tuple((x, y) for x, y, one in zip(xs, middle, lessons, strict=True) if one.by_hand),
        last=(xs[-1], middle[-1]),
        limits=tuple(value.place(sign * limit_k * scale) for sign in (1, -1)),
        zero=value.place(0.0),
        ticks=tuple((value.place(v), fixed(v, 1)) for v in round_ticks(-reach, reach, 5)),
        time_ticks=((xs[0], first), (xs[-1], last)),
    )
