"""Axes of the drawings: a value becomes a place on the sheet, and ticks fall on round numbers."""

import math
from dataclasses import dataclass

_STEPS = (1.0, 2.0, 5.0, 10.0)


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis from ``low`` to ``high``, drawn from ``start`` to ``end`` in drawing units."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def place(self, value: float) -> float:
        """Give the place of a value; not clipped."""
        if self.logarithmic:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def holds(self, value: float) -> bool:
        """Tell whether a value lies on the axis."""
        return self.low <= value <= self.high


def round_ticks(low: float, high: float, at_most: int) -> list[float]:
    """Give at most so many multiples of 1, 2 or 5 times a power of ten between the bounds."""
    if not high > low:
        raise ValueError(f"high: {high!r}, expected more than low {low!r}")
    magnitude = 10.0 ** math.floor(math.log10((high - low) / at_most))
    for step in (factor * magnitude for factor in (*_STEPS, 20.0)):
        first = math.ceil(low / step - 1e-9)
        last = math.floor(high / step + 1e-9)
        if last - first + 1 <= at_most:
            return [k * step for k in range(first, last + 1)]
    return []


def points(xs: "list[float] | tuple[float, ...]", ys: "list[float] | tuple[float, ...]") -> str:
    """Write the points of an SVG polyline."""
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs, ys, strict=True))
