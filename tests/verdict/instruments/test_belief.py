import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.verdict.instruments.belief import DOUBTED, LIMIT, aged, unchecked
from service.verdict.instruments.checks import Check, learned
from service.verdict.instruments.classes import MONTH_S, InstrumentClass

GRADE = InstrumentClass(0.3, 2e3, 0.005)


def test_nothing_known_is_the_class_with_a_heavy_tail():
    belief = unchecked(GRADE)
    mean, cov = belief.moments
    tail = 0.9 + 0.1 * 16
    assert mean == pytest.approx([0, 0, 0])
    assert np.diag(cov) == pytest.approx(tail * GRADE.sizes**2)
    assert belief.pairs == 0


def test_the_interval_of_the_class_is_a_little_wider_than_a_normal_one():
    low, high = unchecked(GRADE).interval(0)
    assert low == pytest.approx(-high)
    assert 1.96 * 0.3 < high < 2.0 * 1.96 * 0.3


def test_a_class_that_is_no_uncertainty_is_refused():
    with pytest.raises(ValueError, match="temp_k: -1"):
        InstrumentClass(-1.0, 2e3)
    with pytest.raises(ValueError, match="gain"):
        InstrumentClass(0.3, 2e3, math.nan)


def test_no_time_changes_nothing_and_time_widens():
    belief = unchecked(GRADE)
    assert aged(belief, 0.0) is belief
    assert aged(belief, -5.0) is belief
    month, year = aged(belief, MONTH_S), aged(belief, 12 * MONTH_S)
    assert np.diag(belief.moments[1])[0] < np.diag(month.moments[1])[0] < np.diag(year.moments[1])[0]


def test_many_short_times_are_one_long_time():
    belief = learned(unchecked(GRADE), Check("temperature_k", 0.1, 0.05))
    once, daily = aged(belief, 2 * MONTH_S), belief
    for _ in range(60):
        daily = aged(daily, MONTH_S / 30)
    assert np.diag(daily.moments[1]) == pytest.approx(np.diag(once.moments[1]), rel=0.02)


@given(st.floats(0.0, 24.0))
def test_age_never_moves_the_middle_and_never_narrows(months):
    belief = learned(unchecked(GRADE), Check("temperature_k", 0.4, 0.05))
    older = aged(belief, months * MONTH_S)
    assert older.moments[0] == pytest.approx(belief.moments[0], abs=1e-6)
    assert np.all(np.diag(older.moments[1]) >= np.diag(belief.moments[1]) * (1 - 1e-6))
    assert older.errors.weight.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("error", "thermometer", "whole"), [(0.1, False, False), (0.6, False, False), (2.0, True, True)]
)
def test_a_device_is_in_doubt_beyond_its_class(error, thermometer, whole):
    belief = unchecked(GRADE)
    for _ in range(2):
        belief = learned(belief, Check("temperature_k", error, 0.05))
    assert (belief.thermometer_doubt >= DOUBTED) is thermometer
    assert (belief.doubt >= DOUBTED) is whole
    assert belief.gauge_doubt < DOUBTED
    assert (abs(error) > LIMIT * GRADE.temp_k) is thermometer


def test_a_gauge_in_doubt_is_the_gauge():
    belief = learned(unchecked(GRADE), Check("zero_pa", 12e3, 200.0))
    assert belief.gauge_doubt >= DOUBTED > belief.thermometer_doubt


def test_the_whole_error_counts_pressure_as_temperature():
    belief = learned(unchecked(InstrumentClass(0.3, 2e3)), Check("zero_pa", -2700.0, 10.0))
    assert belief.combined_k(1e6)[0] == pytest.approx(0.1, abs=0.01)
    assert belief.combined_k(1e5)[0] == pytest.approx(1.0, abs=0.05)
