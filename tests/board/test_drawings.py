"""The drawings put values where a ruler would."""

import itertools
import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from service.board import pt_chart, trace
from service.board.fill import BOTTOM_Y, TOP_Y, Fill
from service.board.pt_chart import Curve, Point
from service.board.quantities import Quantities
from service.board.scales import Axis, round_ticks

SI = Quantities()


def curve(name: str, factor: float) -> Curve:
    temps = tuple(270.0 + k for k in range(60))
    pressures = tuple(factor * 1e6 * math.exp(2500.0 * (1 / 298.15 - 1 / t)) for t in temps)
    return Curve(
        name, temps, pressures, tuple(0.99 * p for p in pressures), tuple(1.01 * p for p in pressures)
    )


def test_a_logarithmic_axis_puts_the_geometric_mean_in_the_middle() -> None:
    axis = Axis(100.0, 400.0, 0.0, 10.0, logarithmic=True)
    assert axis.place(200.0) == pytest.approx(5.0)


@given(st.floats(-500, 500), st.floats(0.1, 1000), st.integers(2, 12))
def test_ticks_are_few_inside_and_evenly_spaced(low: float, span: float, at_most: int) -> None:
    ticks = round_ticks(low, low + span, at_most)
    assert 1 <= len(ticks) <= at_most
    assert all(low - 1e-6 * span <= tick <= low + span * (1 + 1e-6) for tick in ticks)
    gaps = {round(b - a, 9) for a, b in itertools.pairwise(ticks)}
    assert len(gaps) <= 1


def test_an_empty_axis_is_refused() -> None:
    with pytest.raises(ValueError, match="high"):
        round_ticks(3.0, 3.0, 5)


def test_the_fill_is_drawn_to_scale() -> None:
    half = Fill(0.5, 0.8)
    assert half.surface_y == pytest.approx((BOTTOM_Y + TOP_Y) / 2)
    assert half.limit_y == pytest.approx(BOTTOM_Y - 0.8 * (BOTTOM_Y - TOP_Y))
    assert not half.over
    assert "50" in half.words
    assert "limit 80" in half.words


def test_overfull_is_said_in_words() -> None:
    assert Fill(0.86, 0.8, over=True).words.endswith("OVERFULL")


def test_a_cylinder_without_a_weight_has_no_level() -> None:
    assert Fill(None, 0.8).surface_y is None
    assert Fill(None, 0.8).words == "fill not known: no weight"


def test_a_pair_on_its_curve_is_drawn_on_its_line() -> None:
    at = Point(300.0, curve("R-22", 1.0).pressure_pa[30], 0.3, 5000.0)
    chart = pt_chart.pt_chart([curve("R-22", 1.0)], [at], SI)
    assert chart is not None
    (ellipse,) = chart.ellipses
    line = [tuple(map(float, p.split(","))) for p in chart.lines[0].line.split()]
    nearest = min(line, key=lambda p: abs(p[0] - ellipse.x))
    assert nearest == pytest.approx((ellipse.x, ellipse.y), abs=0.11)


def test_the_ellipse_holds_95_percent() -> None:
    chart = pt_chart.pt_chart([curve("R-22", 1.0)], [Point(300.0, 1e6, 0.5, 5000.0)], SI)
    assert chart is not None
    per_k = (chart.right - chart.left) / 24.0
    assert chart.ellipses[0].rx == pytest.approx(math.sqrt(chi2.ppf(0.95, 2)) * 0.5 * per_k, rel=1e-4)


def test_labels_of_close_curves_do_not_cover_each_other() -> None:
    curves = [curve(f"R-{k}", 1.0 + 0.003 * k) for k in range(5)]
    chart = pt_chart.pt_chart(curves, [Point(300.0, 1e6, 0.3, 5000.0)], SI)
    assert chart is not None
    places = sorted(line.label_y for line in chart.lines)
    assert min(b - a for a, b in itertools.pairwise(places)) >= pt_chart.LABEL_GAP - 1e-9
    assert places[-1] <= chart.bottom


def test_the_52_degree_line_shows_when_it_is_near() -> None:
    warm = pt_chart.pt_chart([curve("R-22", 1.0)], [Point(320.0, 1.8e6, 0.3, 5000.0)], SI)
    cool = pt_chart.pt_chart([curve("R-22", 1.0)], [Point(295.0, 1e6, 0.3, 5000.0)], SI)
    assert warm is not None
    assert warm.limit_x is not None
    assert cool is not None
    assert cool.limit_x is None


def test_no_pairs_no_chart() -> None:
    assert pt_chart.pt_chart([curve("R-22", 1.0)], [], SI) is None


START = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


def samples(*states: str, step: timedelta = timedelta(seconds=30)) -> list[trace.Sample]:
    return [trace.Sample(START + k * step, 298.0 + k, 9e5, state) for k, state in enumerate(states)]


def test_states_become_stretches_without_gaps() -> None:
    drawn = trace.trace(samples("waiting", "settling", "settling", "settled", "settled"), [], SI)
    assert drawn is not None
    assert [s.state for s in drawn.stretches] == ["waiting", "settling", "settled"]
    ends = [s.x + s.width for s in drawn.stretches]
    assert ends[:-1] == pytest.approx([s.x for s in drawn.stretches[1:]])
    assert ends[-1] == pytest.approx(drawn.right)


def test_a_silence_breaks_the_line() -> None:
    before, after = samples("settling", "settling"), samples("settling", "settling")
    late = [trace.Sample(s.at + timedelta(hours=1), s.temp_k, s.pressure_pa, s.state) for s in after]
    drawn = trace.trace([*before, *late], [], SI)
    assert drawn is not None
    assert [len(panel.lines) for panel in drawn.panels] == [2, 2]


def test_one_sample_is_no_trace() -> None:
    assert trace.trace(samples("waiting"), [], SI) is None


@given(st.integers(1, 3000))
def test_time_ticks_are_few(minutes: int) -> None:
    drawn = trace.trace(samples("settled", "settled", step=timedelta(minutes=minutes)), [], SI)
    assert drawn is not None
    assert len(drawn.time_ticks) <= 6
    assert all(t.at.second == 0 for t in drawn.time_ticks)


def test_a_settled_reading_is_a_cross_at_its_time_and_value() -> None:
    settled = trace.Settled(START + timedelta(minutes=1), 299.0, 9e5)
    drawn = trace.trace(samples("settling", "settling", "settled", "settled", "settled"), [settled], SI)
    assert drawn is not None
    (x, y) = drawn.panels[0].crosses[0]
    assert x == pytest.approx((drawn.left + drawn.right) / 2)
    assert drawn.panels[0].top < y < drawn.panels[0].bottom


def test_nothing_is_said_of_the_state_while_nothing_was_heard() -> None:
    late = [
        trace.Sample(s.at + timedelta(hours=1), s.temp_k, s.pressure_pa, s.state)
        for s in samples("stale", "stale")
    ]
    drawn = trace.trace([*samples("settled", "settled"), *late], [], SI)
    assert drawn is not None
    first, second = drawn.stretches
    assert second.x - (first.x + first.width) > 0.9 * (drawn.right - drawn.left)
