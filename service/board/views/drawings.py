"""Which curves and pairs are worth drawing, and the drawings in words for those who do not see them."""

from collections.abc import Sequence

from service.board import phrases
from service.board.pt_chart import Curve, Point
from service.board.quantities import Quantities
from service.board.trace import Sample
from service.board.views.hookup import Hooked
from service.board.views.verdict import Candidate
from service.verdict.model import Chart

WORTH_DRAWING = 0.1


def curves(drawing: Chart) -> list[Curve]:
    """Choose the curves worth drawing: clean candidates, and a contamination that is not far-fetched."""
    found = [c for c in drawing.curves if c.kind == "none" or c.probability >= WORTH_DRAWING]
    # A clean curve's probability is its identity's; when something else is likelier than not in it, that leads.
    likeliest = sorted(found, key=lambda c: (c.kind == "none" or c.probability < 0.5, -c.probability))
    return [
        Curve(
            c.designation if c.kind == "none" else phrases.EXPLANATION[c.kind],
            c.temp_k,
            c.pressure_pa,
            c.low_pa,
            c.high_pa,
        )
        for c in likeliest
    ]


def points(drawing: Chart) -> list[Point]:
    """Place the pairs, each with its whole uncertainty."""
    return [
        Point(pair.temp_k, pair.pressure_pa, pair.temp_sd_k, pair.pressure_sd_pa) for pair in drawing.pairs
    ]


def explanations(drawing: Chart | None) -> tuple[str, ...]:
    """Spell out what the short labels of contaminated curves stand for."""
    return tuple(
        f"{phrases.EXPLANATION[c.kind]}: {c.label}"
        for c in (drawing.curves if drawing else ())
        if c.kind != "none" and c.probability >= WORTH_DRAWING
    )


def chart_words(rows: Sequence[Candidate], pairs: int) -> str:
    """Say in words what the chart shows, for those who do not see it."""
    if not rows:
        return ""
    offs = phrases.listed([f"{row.designation} off by {row.difference}" for row in rows[:3]], "and")
    readings = "one settled reading" if pairs == 1 else f"{pairs} settled readings"
    return f"{readings} among the saturation curves of the candidates: {offs}. The numbers are in the tables."


def trace_words(course: Sequence[Sample], hookup: Hooked | None, show: Quantities) -> str:
    """Say in words what the trace shows."""
    if hookup is None or not course:
        return ""
    first = course[0]
    return (
        f"wall temperature from {show.temperature(first.temp_k)} to {hookup.temperature}, pressure from"
        f" {show.pressure(first.pressure_pa)} to {hookup.pressure}; now {hookup.state}"
    )
