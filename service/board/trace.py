"""The live trace: both readings of a hookup over time, above the settling state that they were in."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.board.quantities import Quantities, fixed
from service.board.scales import Axis, points, round_ticks

WIDTH, HEIGHT = 480, 286
LEFT, RIGHT = 50, 12
PANELS = {"wall temperature": (22.0, 112.0), "pressure": (136.0, 222.0)}  # top and bottom
BAND = (232.0, 254.0)
GAP = timedelta(minutes=3)
_TIME_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440)


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment of a hookup: readings [K], [Pa gauge or absolute] and settling state."""

    at: datetime
    temp_k: float | None
    pressure_pa: float | None
    state: str


@dataclass(frozen=True, slots=True)
class Stretch:
    """A span of time in one settling state, in drawing units."""

    state: str
    x: float
    width: float


@dataclass(frozen=True, slots=True)
class TimeTick:
    """A tick of the time axis."""

    place: float
    at: datetime


@dataclass(frozen=True, slots=True)
class Panel:
    """One reading's lines (broken at gaps), its ticks and title."""

    top: float
    bottom: float
    lines: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    title: str
    name: str
    last: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything the template draws."""

    temperature: Panel
    pressure: Panel
    stretches: tuple[Stretch, ...]
    time_ticks: tuple[TimeTick, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    band_top: float = BAND[0]
    band_height: float = BAND[1] - BAND[0]


def trace(samples: Sequence[Sample], show: Quantities) -> Trace | None:
    """Lay out the trace; None with fewer than two samples."""
    if len(samples) < 2 or samples[-1].at <= samples[0].at:
        return None
    start = samples[0].at
    seconds = [(s.at - start).total_seconds() for s in samples]
    x_axis = Axis(0.0, seconds[-1], LEFT, WIDTH - RIGHT)
    xs = [x_axis.place(s) for s in seconds]
    temps = [None if s.temp_k is None else show.temperature_value(s.temp_k) for s in samples]
    pressures = [None if s.pressure_pa is None else show.pressure_value(s.pressure_pa) for s in samples]
    breaks = [b.at - a.at > GAP for a, b in itertools.pairwise(samples)]
    return Trace(
        temperature=_panel(xs, temps, breaks, "wall temperature", show.temperature_unit, 1.0),
        pressure=_panel(xs, pressures, breaks, "pressure", show.pressure_unit, show.pressure_value(10_000.0)),
        stretches=_stretches([s.state for s in samples], xs),
        time_ticks=_time_ticks(samples[0].at, samples[-1].at, x_axis),
    )


def _panel(
    xs: Sequence[float],
    values: Sequence[float | None],
    breaks: Sequence[bool],
    name: str,
    title: str,
    least_span: float,
) -> Panel:
    top, bottom = PANELS[name]
    known = [v for v in values if v is not None]
    if not known:
        return Panel(top, bottom, (), (), title, name, None)
    middle, half = (max(known) + min(known)) / 2.0, max(max(known) - min(known), least_span) / 2.0 * 1.1
    axis = Axis(middle - half, middle + half, bottom, top)
    runs: list[list[tuple[float, float]]] = [[]]
    for k, (x, value) in enumerate(zip(xs, values, strict=True)):
        if value is None or (k and breaks[k - 1]):
            runs.append([])
        if value is not None:
            runs[-1].append((x, axis.place(value)))
    lines = tuple(points([p[0] for p in run], [p[1] for p in run]) for run in runs if len(run) > 1)
    decimals = 0 if half > 2 else 1 if half > 0.2 else 2
    ticks = tuple((axis.place(v), fixed(v, decimals)) for v in round_ticks(axis.low, axis.high, 4))
    drawn = [run for run in runs if run]
    return Panel(top, bottom, lines, ticks, title, name, drawn[-1][-1] if drawn else None)


def _stretches(states: Sequence[str], xs: Sequence[float]) -> tuple[Stretch, ...]:
    stretches: list[Stretch] = []
    start = 0
    for k in range(1, len(states) + 1):
        if k == len(states) or states[k] != states[start]:
            end = xs[min(k, len(states) - 1)]
            stretches.append(Stretch(states[start], xs[start], end - xs[start]))
            start = k
    return tuple(stretches)


def _time_ticks(first: datetime, last: datetime, axis: Axis) -> tuple[TimeTick, ...]:
    minutes = (last - first).total_seconds() / 60.0
    step = next((m for m in _TIME_STEPS_MIN if minutes / m <= 5), _TIME_STEPS_MIN[-1])
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    elapsed = (first - midnight).total_seconds() / 60.0
    count = int(elapsed // step) + 1
    ticks = []
    while (at := midnight + timedelta(minutes=count * step)) <= last:
        ticks.append(TimeTick(axis.place((at - first).total_seconds()), at))
        count += 1
    return tuple(ticks)


def sparkline(values: Sequence[float | None], width: float = 96.0, height: float = 20.0) -> str:
    """Give the points of a small line through the known values, or an empty string with fewer than two."""
    known = [(k, v) for k, v in enumerate(values) if v is not None]
    if len(known) < 2:
        return ""
    low, high = min(v for _, v in known), max(v for _, v in known)
    span = (high - low) or 1.0
    step = width / (len(values) - 1)
    return points([k * step for k, _ in known], [height - (v - low) / span * height for _, v in known])
