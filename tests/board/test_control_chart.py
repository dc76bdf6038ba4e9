from datetime import UTC, datetime, timedelta

from service.board.control_chart import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Lesson, control_chart
from service.board.quantities import Quantities

START = datetime(2026, 5, 4, tzinfo=UTC)


def lesson(day, mean_k, half_k=0.2, *, by_hand=False):
    return Lesson(START + timedelta(days=day), mean_k, half_k, by_hand)


def spots(text):
    return [tuple(float(v) for v in spot.split(",")) for spot in text.split()]


def test_one_moment_is_no_course():
    assert control_chart([lesson(0, 0.1)], 0.9, Quantities()) is None
    assert control_chart([lesson(0, 0.1), lesson(0, 0.2)], 0.9, Quantities()) is None


def test_line_band_limits_and_checks():
    chart = control_chart([lesson(0, 0.0), lesson(5, 0.0, by_hand=True), lesson(10, 1.2)], 0.9, Quantities())
    line, band = spots(chart.line), spots(chart.band)
    assert [x for x, _ in line] == [LEFT, (LEFT + WIDTH - RIGHT) / 2, WIDTH - RIGHT]
    assert line[0][1] == round(chart.zero, 1)
    assert line[2][1] < min(chart.limits) < chart.zero < max(chart.limits)
    assert len(band) == 6
    assert band[0][1] < line[0][1] < band[-1][1]
    assert [round(x) for x, _ in chart.checks] == [round(line[1][0])]
    assert chart.last[1] < chart.zero


def test_a_wide_beginning_stays_on_the_sheet():
    chart = control_chart([lesson(0, 0.0, 9.0), lesson(1, 0.0), lesson(2, 0.1)], 0.9, Quantities())
    assert all(TOP <= y <= BOTTOM for _, y in spots(chart.band))


def test_inch_pound_counts_in_fahrenheit():
    lessons = [lesson(0, 0.0), lesson(10, 0.3)]
    metric, customary = (control_chart(lessons, 0.9, Quantities(inch_pound=one)) for one in (False, True))
    assert (metric.unit, customary.unit) == ("K", "°F")
    assert spots(metric.line) == spots(customary.line)
    assert metric.ticks != customary.ticks
