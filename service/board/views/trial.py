"""A verdict without a cylinder, as text and drawing."""

from dataclasses import dataclass

from service.board import pt_chart
from service.board.pt_chart import PtChart
from service.board.quantities import Quantities
from service.board.views import drawings
from service.board.views.verdict import Judged, as_temperature_k, told
from service.verdict.model import Chart, Verdict

LEAST_DOUBT_K = 0.01


@dataclass(frozen=True, slots=True)
class TrialPage:
    """What one typed reading says."""

    judged: Judged
    chart: PtChart | None
    chart_words: str
    explanations: tuple[str, ...]


def trial_page(found: Verdict, show: Quantities) -> TrialPage:
    """Write it; `found` has its chart."""
    drawing = found.chart
    judged = told(found, _doubt_k(drawing), show)
    chart = (
        pt_chart.pt_chart(drawings.curves(drawing), drawings.points(drawing), show, None) if drawing else None
    )
    return TrialPage(
        judged=judged,
        chart=chart,
        chart_words=drawings.chart_words(judged.candidates, 1),
        explanations=drawings.explanations(drawing),
    )


def _doubt_k(drawing: Chart | None) -> float:
    if drawing is None:
        return LEAST_DOUBT_K
    first = drawing.pairs[0]
    return max(LEAST_DOUBT_K, as_temperature_k(first.temp_sd_k, first.pressure_sd_pa / first.pressure_pa))
