"""Hazard labels of Divisions 2.1 and 2.2 as 49 CFR 172.417 and 172.415 draw them.

A square set on a point, at least 100 mm on a side, with a line inside the edge that runs 5 mm from it; symbol
in the upper half, class number in the lower corner (172.407, from memory: confirm before relying on the
printed label where it travels). Division 2.2: gas cylinder on green; 2.1: flame on red. The label of 2.3 is
not drawn here: whoever ships such a gas needs the printed one. The symbols are our own drawings of what the
rule describes.
"""

from collections.abc import Callable
from typing import Final

from service.paperwork.drawing import BLACK, WHITE, Path, Polygon, Shape, Text

GREEN: Final = "#00843d"
RED: Final = "#d3222a"
_DIAGONAL: Final = 2.0**0.5
_TEXTS: Final = {"2.1": ("FLAMMABLE", "GAS"), "2.2": ("NON-FLAMMABLE", "GAS")}

Point = tuple[float, float]
Scale = Callable[[float, float], Point]


def printable(division: str | None) -> str | None:
    """The division whose label is drawn: 2.1 or 2.2; None where none can be."""
    if division is None or "2.3" in division:
        return None
    first = division[:3]
    return first if first in _TEXTS else None


def hazard_diamond(x: float, y: float, edge: float, division: str, *, colour: bool = True) -> list[Shape]:
    """Shapes of a hazard label.

    Parameters
    ----------
    x, y : float
        Upper left corner of the square that surrounds it [mm].
    edge : float
        Edge of the label [mm]; the surrounding square is wider by the square root of two.
    division : str
        ``2.1`` or ``2.2``.
    colour : bool
        On its background color; otherwise black on white, for a printer without color.
    """
    half = edge * _DIAGONAL / 2.0
    cx, cy = x + half, y + half
    background = (RED if division == "2.1" else GREEN) if colour else WHITE
    ink = WHITE if colour else BLACK
    inner = half - 0.05 * edge * _DIAGONAL

    def point(u: float, v: float) -> Point:
        """From units of the half diagonal to millimetres."""
        return cx + u * half, cy + v * half

    outline = 0.012 * edge
    shapes: list[Shape] = [
        Polygon(_square(cx, cy, half), background, BLACK, outline),
        Polygon(_square(cx, cy, inner), None, ink, outline),
    ]
    shapes += _flame(point, ink) if division == "2.1" else _cylinder(point, ink)
    size = 0.105 * edge
    upper, lower = _TEXTS[division]
    shapes += [
        Text(cx, cy + 0.16 * half, upper, size, True, "middle", ink),
        Text(cx, cy + 0.16 * half + 1.05 * size, lower, size, True, "middle", ink),
        Text(cx, cy + 0.80 * half, "2", 0.20 * edge, True, "middle", ink),
    ]
    return shapes


def _square(cx: float, cy: float, half: float) -> tuple[Point, ...]:
    return ((cx, cy - half), (cx + half, cy), (cx, cy + half), (cx - half, cy))


def _path(point: Scale, start: Point, segments: list[tuple[Point, ...]], ink: str) -> Path:
    return Path(point(*start), tuple(tuple(point(*p) for p in segment) for segment in segments), ink)


def _cylinder(point: Scale, ink: str) -> list[Shape]:
    """A gas cylinder lying aslant, valve up to the right: body with round ends, neck, valve."""

    def turned(u: float, v: float) -> Point:
        """Along the cylinder's own axis (u) and across it (v), leaning 35° up to the right."""
        cos, sin = 0.819, -0.574
        u, v = 0.82 * u - 0.03, 0.82 * v
        return point(u * cos - v * sin, -0.36 + u * sin + v * cos)

    body = _path(
        turned,
        (-0.30, -0.095),
        [
            ((0.20, -0.095),),
            ((0.27, -0.095), (0.31, -0.05), (0.33, -0.035)),
            ((0.37, -0.035),),
            ((0.37, 0.035),),
            ((0.33, 0.035),),
            ((0.31, 0.05), (0.27, 0.095), (0.20, 0.095)),
            ((-0.30, 0.095),),
            ((-0.37, 0.095), (-0.37, -0.095), (-0.30, -0.095)),
        ],
        ink,
    )
    valve = Polygon(
        (turned(0.385, -0.07), turned(0.445, -0.07), turned(0.445, 0.07), turned(0.385, 0.07)), ink, None
    )
    return [body, valve]


def _flame(point: Scale, ink: str) -> list[Shape]:
    """A flame of three tongues over a ground line."""
    flame = _path(
        point,
        (-0.02, -0.80),
        [
            ((0.06, -0.66), (0.16, -0.62), (0.15, -0.47)),
            ((0.19, -0.50), (0.21, -0.55), (0.20, -0.61)),
            ((0.29, -0.50), (0.31, -0.36), (0.24, -0.26)),
            ((0.20, -0.19), (0.12, -0.15), (0.02, -0.15)),
            ((-0.12, -0.15), (-0.23, -0.22), (-0.25, -0.33)),
            ((-0.27, -0.44), (-0.22, -0.52), (-0.17, -0.58)),
            ((-0.18, -0.52), (-0.16, -0.47), (-0.12, -0.45)),
            ((-0.12, -0.58), (-0.01, -0.64), (-0.02, -0.80)),
        ],
        ink,
    )
    ground = Polygon(
        (point(-0.30, -0.10), point(0.30, -0.10), point(0.30, -0.055), point(-0.30, -0.055)), ink
    )
    return [flame, ground]
