"""The pressure-temperature chart: where the pairs lie among the candidates' saturation curves."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.board.quantities import Quantities, fixed
from service.board.scales import Axis, points, round_ticks

WIDTH, HEIGHT = 480, 340
LEFT, RIGHT, TOP, BOTTOM = 58, 82, 10, 44
LABEL_GAP = 16.0
RADIUS_95 = 2.4477  # square root of the 95 % point of chi-squared with two degrees of freedom
LIMIT_K = 325.15  # 52 °C (125 °F): never heat a cylinder above it


@dataclass(frozen=True, slots=True)
class Curve:
    """What one explanation would read: temperatures [K], pressures with a one sigma band [Pa]."""

    label: str
    temp_k: tuple[float, ...]
    pressure_pa: tuple[float, ...]
    low_pa: tuple[float, ...]
    high_pa: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One pair with its total standard uncertainties."""

    temp_k: float
    pressure_pa: float
    temp_sd_k: float
    pressure_sd_pa: float


@dataclass(frozen=True, slots=True)
class Line:
    """A drawn curve: its rank (0 is the likeliest), line, band and label."""

    rank: int
    label: str
    line: str
    band: str
    label_x: float
    label_y: float
    anchor_x: float
    anchor_y: float


@dataclass(frozen=True, slots=True)
class Tick:
    """A tick and its text."""

    place: float
    text: str


@dataclass(frozen=True, slots=True)
class Ellipse:
    """A pair with its 2 sigma ellipse."""

    x: float
    y: float
    rx: float
    ry: float


@dataclass(frozen=True, slots=True)
class PtChart:
    """Everything the template draws, in drawing units."""

    lines: tuple[Line, ...]
    ellipses: tuple[Ellipse, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    limit_x: float | None
    rating_y: float | None
    x_title: str
    y_title: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


def temperature_window(pairs: Sequence[Point]) -> tuple[float, float]:
    """Give the temperatures [K] to draw: the pairs and 8 K around them, at least 24 K wide."""
    low = min(p.temp_k for p in pairs) - 8.0
    high = max(p.temp_k for p in pairs) + 8.0
    spare = max(0.0, 24.0 - (high - low)) / 2.0
    return low - spare, high + spare


def pt_chart(
    curves: Sequence[Curve], pairs: Sequence[Point], show: Quantities, rating_pa: float | None = None
) -> PtChart | None:
    """Lay out the chart, None without pairs; ``rating_pa`` is the service pressure, absolute [Pa]."""
    if not pairs or not curves:
        return None
    low_k, high_k = temperature_window(pairs)
    x_axis = Axis(low_k, high_k, LEFT, WIDTH - RIGHT)
    y_axis = _pressure_axis(curves, pairs)
    lines = _spread_labels([_line(rank, c, x_axis, y_axis) for rank, c in enumerate(curves)])
    rating_y = y_axis.place(rating_pa) if rating_pa is not None and y_axis.holds(rating_pa) else None
    return PtChart(
        lines=tuple(lines),
        ellipses=tuple(_ellipse(p, x_axis, y_axis) for p in pairs),
        x_ticks=_x_ticks(x_axis, show),
        y_ticks=_y_ticks(y_axis, show),
        limit_x=x_axis.place(LIMIT_K) if x_axis.holds(LIMIT_K) else None,
        rating_y=rating_y,
        x_title=f"wall temperature, {show.temperature_unit}",
        y_title=f"absolute pressure, {show.pressure_unit}",
    )


def _pressure_axis(curves: Sequence[Curve], pairs: Sequence[Point]) -> Axis:
    low_k, high_k = temperature_window(pairs)
    best = curves[0]
    shown = [p for t, p in zip(best.temp_k, best.pressure_pa, strict=True) if low_k <= t <= high_k]
    shown += [p.pressure_pa for p in pairs]
    return Axis(min(shown) / 1.15, max(shown) * 1.15, HEIGHT - BOTTOM, TOP, logarithmic=True)


def _line(rank: int, curve: Curve, x_axis: Axis, y_axis: Axis) -> Line:
    kept = [
        (x_axis.place(t), y_axis.place(p), y_axis.place(low), y_axis.place(high))
        for t, p, low, high in zip(curve.temp_k, curve.pressure_pa, curve.low_pa, curve.high_pa, strict=True)
        if x_axis.holds(t) and y_axis.holds(p)
    ]
    xs, ys, lows, highs = ([one[k] for one in kept] for k in range(4))
    end_x, end_y = (xs[-1], ys[-1]) if xs else (float(WIDTH - RIGHT), float(TOP))
    return Line(
        rank=rank,
        label=curve.label,
        line=points(xs, ys),
        band=points([*xs, *reversed(xs)], [*highs, *reversed(lows)]),
        label_x=WIDTH - RIGHT + 16.0,
        label_y=end_y,
        anchor_x=end_x,
        anchor_y=end_y,
    )


def _spread_labels(lines: list[Line]) -> list[Line]:
    """Move labels apart, from the top down and back up, so that none covers another."""
    order = sorted(range(len(lines)), key=lambda k: lines[k].anchor_y)
    places = [min(max(lines[k].anchor_y, TOP + 4.0), HEIGHT - BOTTOM) for k in order]
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + LABEL_GAP)
    over = max(0.0, places[-1] - (HEIGHT - BOTTOM))
    places[-1] -= over
    for k in range(len(places) - 2, -1, -1):
        places[k] = min(places[k], places[k + 1] - LABEL_GAP)
    moved = list(lines)
    for place, k in zip(places, order, strict=True):
        moved[k] = replace(lines[k], label_y=place)
    return moved


def _ellipse(pair: Point, x_axis: Axis, y_axis: Axis) -> Ellipse:
    x, y = x_axis.place(pair.temp_k), y_axis.place(pair.pressure_pa)
    rx = abs(x_axis.place(pair.temp_k + RADIUS_95 * pair.temp_sd_k) - x)
    ry = abs(
        y_axis.place(pair.pressure_pa * math.exp(RADIUS_95 * pair.pressure_sd_pa / pair.pressure_pa)) - y
    )
    return Ellipse(x, y, rx, ry)


def _x_ticks(axis: Axis, show: Quantities) -> tuple[Tick, ...]:
    shown_low, shown_high = show.temperature_value(axis.low), show.temperature_value(axis.high)
    scale = Axis(shown_low, shown_high, axis.start, axis.end)
    return tuple(Tick(scale.place(v), fixed(v, 0)) for v in round_ticks(shown_low, shown_high, 7))


def _y_ticks(axis: Axis, show: Quantities) -> tuple[Tick, ...]:
    low, high = show.pressure_value(axis.low), show.pressure_value(axis.high)
    scale = Axis(low, high, axis.start, axis.end, logarithmic=True)
    decimals = 0 if high - low > 5 else 1
    return tuple(Tick(scale.place(v), fixed(v, decimals)) for v in round_ticks(low, high, 8))
