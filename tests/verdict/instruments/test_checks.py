import numpy as np
import pytest

from service.verdict.instruments.belief import unchecked
from service.verdict.instruments.checks import ICE_POINT_K, Check, compared, ice_bath, learned, open_air
from service.verdict.instruments.classes import InstrumentClass

GRADE = InstrumentClass(0.3, 2e3, 0.005)


def test_an_ice_bath_tells_the_thermometer_alone():
    """0.00 °C: ASTM E563, ice point bath."""
    before = unchecked(GRADE)
    after = learned(before, ice_bath(ICE_POINT_K + 0.4))
    mean, cov = after.moments
    assert mean[0] == pytest.approx(0.4, abs=0.02)
    assert cov[0, 0] ** 0.5 < 0.08
    assert np.diag(cov)[1:] == pytest.approx(np.diag(before.moments[1])[1:], rel=1e-6)


def test_open_air_tells_the_zero_alone():
    after = learned(unchecked(GRADE), open_air(-3e3))
    mean, cov = after.moments
    assert mean[1] == pytest.approx(-3e3, rel=0.03)
    assert cov[0, 0] == pytest.approx(unchecked(GRADE).moments[1][0, 0], rel=1e-6)


def test_a_pressure_beside_a_reference_after_a_zero_tells_the_gain():
    zeroed = learned(unchecked(GRADE), open_air(0.0))
    after = learned(zeroed, compared("pressure_pa", 1.01e6, 1.0e6, 500.0))
    assert after.moments[0][2] == pytest.approx(0.01, abs=0.001)


def test_a_blunder_moves_little_and_a_second_check_settles_it():
    once = learned(unchecked(GRADE), Check("temperature_k", 2.6, 0.05))
    assert 0.0 < once.moments[0][0] < 2.3
    assert once.moments[1][0, 0] ** 0.5 > 0.3
    twice = learned(once, Check("temperature_k", 2.6, 0.05))
    assert twice.moments[0][0] == pytest.approx(2.6, abs=0.1)
    impossible = learned(unchecked(GRADE), Check("temperature_k", 20.0, 0.05))
    assert impossible.moments[0] == pytest.approx([0, 0, 0], abs=1e-6)


@pytest.mark.parametrize(
    ("check", "named"),
    [(Check("colour", 0.0, 1.0), "quantity: 'colour'"), (Check("zero_pa", 0.0, 0.0), "uncertainty: 0.0")],
)
def test_what_is_no_check_is_refused(check, named):
    with pytest.raises(ValueError, match=named):
        learned(unchecked(GRADE), check)
