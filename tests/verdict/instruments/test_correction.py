import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.verdict.evidence import reference_slope
from service.verdict.instruments.belief import unchecked
from service.verdict.instruments.checks import Check, learned
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.instruments.correction import corrected, share
from service.verdict.model import Pair

GRADE = InstrumentClass(0.3, 2e3, 0.005)
PAIR = Pair(297.0, 1.0e6, 0.05, 300.0, 0.3, 2e3, 0.005, temperature_device="t", pressure_device="p")


def test_a_known_offset_is_taken_off_and_the_rest_stays():
    belief = learned(unchecked(GRADE), Check("temperature_k", 0.5, 0.02))
    pair = corrected(PAIR, belief)
    assert pair.temp_k == pytest.approx(296.5, abs=0.02)
    assert pair.pressure_pa == pytest.approx(1.0e6)
    assert pair.temp_bias_k < 0.1
    assert (pair.temp_noise_k, pair.temperature_device) == (0.05, "t")


def test_zero_and_gain_are_taken_off_the_pressure():
    belief = learned(unchecked(GRADE), Check("zero_pa", 3e3, 50.0))
    belief = learned(belief, Check("pressure_pa", 3e3 + 0.01e6, 100.0, 1e6))
    assert corrected(PAIR, belief).pressure_pa == pytest.approx((1e6 - 3e3) / 1.01, rel=1e-3)


def test_a_set_of_which_nothing_is_known_is_not_moved_and_is_wider_than_its_class():
    pair = corrected(PAIR, unchecked(GRADE))
    assert (pair.temp_k, pair.pressure_pa) == pytest.approx((297.0, 1e6))
    assert pair.temp_bias_k > 0.3
    assert pair.pressure_bias_pa > 2e3


@given(st.floats(-1.0, 1.0), st.floats(0.02, 0.5), st.floats(1e5, 3e6))
def test_the_uncertainty_of_the_combination_is_the_believed_one(error, uncertainty, pressure):
    belief = learned(unchecked(GRADE), Check("pressure_pa", error * 1e4, uncertainty * 1e4, 1e6))
    pair = corrected(Pair(297.0, pressure, 0.05, 300.0), belief)
    slope = float(reference_slope(np.array([pair.temp_k]))[0])
    row = np.array([-slope, 1 / pair.pressure_pa, 1.0])
    stated = row**2 @ np.array([pair.temp_bias_k, pair.pressure_bias_pa, pair.gain_bias]) ** 2
    assert stated == pytest.approx(float(row @ belief.moments[1] @ row), rel=1e-6)


def test_shares_of_the_uncertainty():
    found = share(PAIR)
    assert found.thermometer == pytest.approx((0.027 * 0.3) ** 2 / (0.027 * found.total_k) ** 2)
    assert 0 < found.gauge < found.thermometer < 1
    assert found.thermometer + found.gauge < 1
    perfect = share(Pair(297.0, 1e6, 0.05, 300.0))
    assert (perfect.thermometer, perfect.gauge) == (0.0, 0.0)


def test_what_was_learned_since_widens_and_moves_nothing():
    """A set known to 0.1 K that is found 1.2 K off must not condemn with the certainty it had."""
    before = learned(unchecked(GRADE), Check("temperature_k", 0.0, 0.1))
    dropped = learned(learned(before, Check("temperature_k", 1.2, 0.1)), Check("temperature_k", 1.2, 0.1))
    sure, careful = corrected(PAIR, before), corrected(PAIR, before, dropped)
    assert (careful.temp_k, careful.pressure_pa) == (sure.temp_k, sure.pressure_pa)
    assert share(careful).total_k > abs(dropped.combined_k()[0] - before.combined_k()[0])
    assert corrected(PAIR, before, before) == sure
    surer = learned(before, Check("temperature_k", 0.0, 0.01))
    assert share(corrected(PAIR, before, surer)).total_k >= share(sure).total_k
