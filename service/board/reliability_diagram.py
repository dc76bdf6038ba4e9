"""The reliability diagram: how sure verdicts were against how often they were right, with what few cases leave open."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.board.scales import Axis
from service.verdict.truth.scores import Bin

WIDTH, HEIGHT = 420, 330
LEFT, RIGHT, TOP, BOTTOM = 48, 16, 26, 278


@dataclass(frozen=True, slots=True)
class Mark:
    """One group of verdicts: where it lies, from where to where its share may lie, and how many there are."""

    x: float
    y: float
    top: float
    bottom: float
    cases: int


@dataclass(frozen=True, slots=True)
class ReliabilityDiagram:
    """Everything the template draws."""

    marks: tuple[Mark, ...]
    diagonal: str
    ticks: tuple[tuple[float, float, str], ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def reliability_diagram(bins: Sequence[Bin]) -> ReliabilityDiagram | None:
    """Lay out the groups; None without any."""
    across, up = Axis(0.0, 1.0, LEFT, WIDTH - RIGHT), Axis(0.0, 1.0, BOTTOM, TOP)
    marks = tuple(
        Mark(
            across.place(one.stated),
            up.place(one.right.share),
            up.place(one.right.high or 0.0),
            up.place(one.right.low or 0.0),
            one.right.of,
        )
        for one in bins
        if one.right.share is not None
    )
    if not marks:
        return None
    return ReliabilityDiagram(
        marks=marks,
        diagonal=f"M{LEFT} {BOTTOM}L{WIDTH - RIGHT} {TOP}",
        ticks=tuple((across.place(v), up.place(v), f"{100 * v:.0f}") for v in (0.0, 0.25, 0.5, 0.75, 1.0)),
    )
