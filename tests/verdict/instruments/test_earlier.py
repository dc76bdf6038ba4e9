"""What a set was off by earlier, by what it learned before and since."""

import numpy as np
import pytest

from service.verdict.instruments.belief import aged, unchecked
from service.verdict.instruments.checks import Check, learned
from service.verdict.instruments.classes import MONTH_S, InstrumentClass
from service.verdict.instruments.earlier import Lesson, as_of

GRADE = InstrumentClass(0.3, 2e3, 0.005)
DAY_S = 86_400.0


def ice(at_s, error_k, uncertainty_k=0.05):
    return Lesson(at_s, Check("temperature_k", error_k, uncertainty_k))


def test_what_came_before_alone_is_the_belief_of_the_time():
    plain = aged(learned(unchecked(GRADE), ice(0, 0.4).told), 10 * DAY_S)
    found = as_of(unchecked(GRADE), 0.0, [ice(0.0, 0.4)], 10 * DAY_S)
    assert found.moments[0] == pytest.approx(plain.moments[0])
    assert found.moments[1] == pytest.approx(plain.moments[1])


def test_a_check_made_later_corrects_what_was_read_before_it():
    found = as_of(unchecked(GRADE), 0.0, [ice(2 * DAY_S, 1.2), ice(3 * DAY_S, 1.2)], 0.0)
    assert found.errors.mean.shape[1] == 3
    assert found.moments[0][0] == pytest.approx(1.2, abs=0.1)
    assert np.sqrt(found.moments[1][0, 0]) < 0.3
    longer = as_of(unchecked(GRADE), 0.0, [ice(400 * DAY_S, 1.2), ice(401 * DAY_S, 1.2)], 0.0)
    assert longer.moments[0][0] < found.moments[0][0]
    assert longer.moments[1][0, 0] > found.moments[1][0, 0]


def test_a_clamp_that_was_good_and_fell_later_corrects_nothing_of_before():
    good = [ice(number * DAY_S, 0.0) for number in range(4)]
    fallen = [ice((30 + number) * DAY_S, 1.5) for number in range(3)]
    then = as_of(unchecked(GRADE), 0.0, [*good, *fallen], 3 * DAY_S)
    between = as_of(unchecked(GRADE), 0.0, [*good, *fallen], 12 * DAY_S)
    now = as_of(unchecked(GRADE), 0.0, [*good, *fallen], 33 * DAY_S)
    assert abs(then.moments[0][0]) < 0.05
    # It may have fallen on any of the 27 days between, a third of them before the twelfth.
    assert between.moments[0][0] == pytest.approx(1.5 / 3, abs=0.05)
    assert now.moments[0][0] == pytest.approx(1.5, abs=0.1)


def test_smoothing_never_knows_less_than_the_time_itself():
    """Of a drift alone the answer is that of an exact smoother, by its closed form for two readings."""
    prior, noise = GRADE.temp_k**2, 0.05**2
    later = as_of(unchecked(GRADE), 0.0, [ice(0.0, 0.1), ice(MONTH_S, 0.1)], 0.0)
    filtered = as_of(unchecked(GRADE), 0.0, [ice(0.0, 0.1)], 0.0)
    assert later.moments[1][0, 0] < filtered.moments[1][0, 0] < prior
    drift = (0.08 * GRADE.temp_k) ** 2
    exact = 1 / (1 / prior + 1 / noise + 1 / (drift + noise))
    core = later.errors.cov[later.errors.weight.argmax()][0, 0]
    assert core == pytest.approx(exact, rel=0.03)
