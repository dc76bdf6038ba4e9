"""A page as a list of shapes in millimetres, drawn by the PDF and the SVG writer alike.

The origin is the upper left corner, y runs down, as on SVG and as people read.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, Protocol

Anchor = Literal["start", "middle", "end"]

BLACK: Final = "#000000"
WHITE: Final = "#ffffff"
GREY: Final = "#555555"


class TextMeasure(Protocol):
    """Width of a text in millimetres, by the metrics of the font that both writers use."""

    def __call__(self, text: str, size_mm: float, *, bold: bool) -> float:
        """Measure."""


@dataclass(frozen=True, slots=True)
class Text:
    """A line of text; ``size`` is the font size, ``y`` the baseline [mm]."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    anchor: Anchor = "start"
    colour: str = BLACK


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle [mm]; without ``fill`` it is an outline."""

    x: float
    y: float
    width: float
    height: float
    fill: str | None = None
    stroke: str | None = None
    stroke_width: float = 0.2


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed polygon [mm]."""

    points: tuple[tuple[float, float], ...]
    fill: str | None = None
    stroke: str | None = None
    stroke_width: float = 0.2


@dataclass(frozen=True, slots=True)
class Path:
    """A closed path: a start, then cubic segments as (control, control, end), or (end,) for a line [mm]."""

    start: tuple[float, float]
    segments: tuple[tuple[tuple[float, float], ...], ...]
    fill: str


@dataclass(frozen=True, slots=True)
class Cells:
    """Black squares of a two-dimensional code: upper left corner, edge of one cell [mm], rows of 0 and 1."""

    x: float
    y: float
    cell: float
    rows: tuple[tuple[int, ...], ...]


Shape = Text | Rect | Polygon | Path | Cells


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes on a page of a given size [mm]; ``title`` is what a screen reader says."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    title: str


def scaled(shapes: Sequence[Shape], factor: float) -> list[Shape]:
    """The same shapes, every length times a factor [-]."""
    return [_scaled(shape, factor) for shape in shapes]


def _scaled(shape: Shape, factor: float) -> Shape:
    def point(at: tuple[float, float]) -> tuple[float, float]:
        return at[0] * factor, at[1] * factor

    match shape:
        case Text():
            return replace(shape, x=shape.x * factor, y=shape.y * factor, size=shape.size * factor)
        case Rect():
            x, y = point((shape.x, shape.y))
            width, height = point((shape.width, shape.height))
            stroke = shape.stroke_width * factor
            return replace(shape, x=x, y=y, width=width, height=height, stroke_width=stroke)
        case Polygon():
            points, stroke = tuple(map(point, shape.points)), shape.stroke_width * factor
            return replace(shape, points=points, stroke_width=stroke)
        case Path():
            segments = tuple(tuple(map(point, segment)) for segment in shape.segments)
            return replace(shape, start=point(shape.start), segments=segments)
        case Cells():
            return replace(shape, x=shape.x * factor, y=shape.y * factor, cell=shape.cell * factor)


def moved(shapes: Sequence[Shape], dx: float, dy: float) -> list[Shape]:
    """The same shapes, shifted [mm]."""
    return [_moved(shape, dx, dy) for shape in shapes]


def _moved(shape: Shape, dx: float, dy: float) -> Shape:
    match shape:
        case Text():
            return Text(
                shape.x + dx, shape.y + dy, shape.text, shape.size, shape.bold, shape.anchor, shape.colour
            )
        case Rect():
            return Rect(
                shape.x + dx,
                shape.y + dy,
                shape.width,
                shape.height,
                shape.fill,
                shape.stroke,
                shape.stroke_width,
            )
        case Polygon():
            points = tuple((x + dx, y + dy) for x, y in shape.points)
            return Polygon(points, shape.fill, shape.stroke, shape.stroke_width)
        case Path():
            segments = tuple(tuple((x + dx, y + dy) for x, y in segment) for segment in shape.segments)
            return Path((shape.start[0] + dx, shape.start[1] + dy), segments, shape.fill)
        case Cells():
            return Cells(shape.x + dx, shape.y + dy, shape.cell, shape.rows)


def fitted(
    measure: TextMeasure,
    text: str,
    width_mm: float,
    size_mm: float,
    *,
    bold: bool = False,
    smallest: float = 1.6,
) -> tuple[str, float]:
    """Text and size [mm] that fit a width: first smaller, then cut with an ellipsis."""
    size = size_mm
    while size > smallest and measure(text, size, bold=bold) > width_mm:
        size -= 0.1
    if measure(text, size, bold=bold) <= width_mm:
        return text, size
    while text and measure(text + "…", size, bold=bold) > width_mm:
        text = text[:-1]
    return text.rstrip() + "…", size


def wrapped(
    measure: TextMeasure, text: str, width_mm: float, size_mm: float, *, bold: bool = False, lines: int = 3
) -> list[str]:
    """Text broken into at most so many lines; what is left over is cut with an ellipsis."""
    done: list[str] = []
    current = ""
    for word in text.split(" "):
        trial = f"{current} {word}".strip()
        if not current or measure(trial, size_mm, bold=bold) <= width_mm:
            current = trial
        else:
            done.append(current)
            current = word
    done.append(current)
    if len(done) == 2:
        done = _balanced(measure, text.split(" "), size_mm, bold)
    if len(done) > lines:
        done = [*done[: lines - 1], " ".join(done[lines - 1 :])]
    return [fitted(measure, line, width_mm, size_mm, bold=bold, smallest=size_mm)[0] for line in done if line]


def _balanced(measure: TextMeasure, words: Sequence[str], size_mm: float, bold: bool) -> list[str]:
    """Two lines as even as they can be, so that no word stands alone."""
    breaks = [(" ".join(words[:at]), " ".join(words[at:])) for at in range(1, len(words))]
    return list(min(breaks, key=lambda pair: max(measure(line, size_mm, bold=bold) for line in pair)))
