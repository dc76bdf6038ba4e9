"""The live trace: both readings of a hookup over time, above the settling state that they were in."""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.board.quantities import Quantities, fixed
from service.board.scales import Axis, points, round_ticks

WIDTH, HEIGHT = 480, 286
LEFT, RIGHT = 50, 12
PANELS = {"wall temperature": (22.0, 112.0), "absolute pressure": (136.0, 222.0)}  # top and bottom
BAND = (232.0, 254.0)
GAP = timedelta(minutes=3)
Spot = tuple[float, float]
_TIME_STEPS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880, 7200, 14400)


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment of a hookup: readings [K], [Pa absolute] and settling state."""

    at: datetime
    temp_k: float | None
    pressure_pa: float | None
    state: str


@dataclass(frozen=True, slots=True)
class Settled:
    """A reading that counts, at the time that it settled [K], [Pa]."""

    at: datetime
    temp_k: float
    pressure_pa: float


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
    """One reading: its lines (broken at silences), lonely and last readings as dots, settled ones as crosses."""

    name: str
    unit: str
    top: float
    bottom: float
    lines: tuple[str, ...]
    dots: tuple[Spot, ...]
    crosses: tuple[Spot, ...]
    ticks: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """Everything the template draws."""

    panels: tuple[Panel, ...]
    stretches: tuple[Stretch, ...]
    time_ticks: tuple[TimeTick, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    band_top: float = BAND[0]
    band_height: float = BAND[1] - BAND[0]


def trace(samples: Sequence[Sample], settled: Sequence[Settled], show: Quantities) -> Trace | None:
    """Lay out what was read, with the readings that count; None with fewer than two moments."""
    moments = [*(sample.at for sample in samples), *(one.at for one in settled)]
    if len(moments) < 2 or min(moments) == max(moments):
        return None
    first, last = min(moments), max(moments)
    axis = Axis(0.0, (last - first).total_seconds(), LEFT, WIDTH - RIGHT)

    def place(at: datetime) -> float:
        return axis.place((at - first).total_seconds())

    runs = _runs(samples)
    temps = [
        [(place(s.at), show.temperature_value(s.temp_k)) for s in r if s.temp_k is not None] for r in runs
    ]
    pressures = [
        [(place(s.at), show.pressure_value(s.pressure_pa)) for s in r if s.pressure_pa is not None]
        for r in runs
    ]
    settled_temps = [(place(s.at), show.temperature_value(s.temp_k)) for s in settled]
    settled_pressures = [(place(s.at), show.pressure_value(s.pressure_pa)) for s in settled]
    return Trace(
        panels=(
            _panel("wall temperature", show.temperature_unit, temps, settled_temps, 1.0),
            _panel(
                "absolute pressure",
                show.pressure_unit,
                pressures,
                settled_pressures,
                show.pressure_value(10_000.0),
            ),
        ),
        stretches=tuple(stretch for run in runs for stretch in _stretches(run, place)),
        time_ticks=_time_ticks(first, last, axis),
    )


def _runs(samples: Sequence[Sample]) -> list[list[Sample]]:
    """Part the samples where nothing was heard for a while."""
    runs: list[list[Sample]] = []
    for sample in samples:
        if not runs or sample.at - runs[-1][-1].at > GAP:
            runs.append([])
        runs[-1].append(sample)
    return runs


def _panel(
    name: str, unit: str, runs: Sequence[Sequence[Spot]], settled: Sequence[Spot], least_span: float
) -> Panel:
    top, bottom = PANELS[name]
    known = [value for run in (*runs, settled) for _, value in run]
    if not known:
        return Panel(name, unit, top, bottom, (), (), (), ())
    middle, half = (max(known) + min(known)) / 2.0, max(max(known) - min(known), least_span) / 2.0 * 1.15
    axis = Axis(middle - half, middle + half, bottom, top)
    drawn = [[(x, axis.place(value)) for x, value in run] for run in runs if run]
    decimals = 0 if half > 2 else 1 if half > 0.2 else 2
    return Panel(
        name=name,
        unit=unit,
        top=top,
        bottom=bottom,
        lines=tuple(points([x for x, _ in run], [y for _, y in run]) for run in drawn if len(run) > 1),
        dots=tuple(run[-1] for run in drawn if len(run) == 1 or run is drawn[-1]),
        crosses=tuple((x, axis.place(value)) for x, value in settled),
        ticks=tuple((axis.place(v), fixed(v, decimals)) for v in round_ticks(axis.low, axis.high, 4)),
    )


def _stretches(run: Sequence[Sample], place: Callable[[datetime], float]) -> list[Stretch]:
    stretches = []
    for state, group in itertools.groupby(itertools.pairwise(run), key=lambda pair: pair[0].state):
        moments = list(group)
        start, end = place(moments[0][0].at), place(moments[-1][1].at)
        stretches.append(Stretch(state, start, end - start))
    return stretches


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
