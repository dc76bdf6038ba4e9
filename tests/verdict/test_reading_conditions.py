import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.verdict.reading_conditions import UNKNOWN, Conditions, temperature_uncertainty_k

BEST = Conditions(in_sun=False, at_rest_min=600.0, clamp_insulated=True)
CONDITIONS = st.builds(
    Conditions, st.none() | st.booleans(), st.none() | st.floats(0.0, 1e5), st.none() | st.booleans()
)


def test_without_an_answer_a_temperature_is_good_to_a_kelvin_and_a_half():
    assert temperature_uncertainty_k(0.3, UNKNOWN) == pytest.approx(1.5, abs=0.02)


def test_read_well_only_the_thermometer_is_in_doubt():
    assert temperature_uncertainty_k(0.3, BEST) == pytest.approx(0.3, abs=1e-4)


@given(CONDITIONS, st.floats(0.05, 5.0))
def test_nothing_makes_it_better_than_the_thermometer_nor_endless(conditions, thermometer_k):
    found = temperature_uncertainty_k(thermometer_k, conditions)
    assert thermometer_k <= found <= thermometer_k + 2.5 + 2.0 + 0.7


@pytest.mark.parametrize(
    ("worse", "better"),
    [
        (Conditions(in_sun=True), UNKNOWN),
        (UNKNOWN, Conditions(in_sun=False)),
        (Conditions(at_rest_min=0.0), UNKNOWN),
        (Conditions(at_rest_min=30.0), Conditions(at_rest_min=60.0)),
        (UNKNOWN, Conditions(at_rest_min=120.0)),
        (Conditions(clamp_insulated=False), Conditions(clamp_insulated=True)),
    ],
)
def test_what_is_worse_counts_as_worse(worse, better):
    assert temperature_uncertainty_k(0.3, worse) > temperature_uncertainty_k(0.3, better)


def test_equipment_takes_longer_to_come_to_rest_than_a_cylinder():
    """One measured rig: its high side 3 to 5 K off 30 to 60 minutes after a stop."""

    def off(minutes):
        return temperature_uncertainty_k(
            0.3, Conditions(in_sun=False, at_rest_min=minutes, clamp_insulated=True, of_equipment=True)
        )

    assert 3.0 < off(30.0) < 5.0
    assert off(30.0) > temperature_uncertainty_k(0.3, Conditions(False, 30.0, True))
    assert off(600.0) == pytest.approx(0.3, abs=1e-3)


def test_the_disturbance_halves_every_half_hour():
    def unrest(minutes):
        return temperature_uncertainty_k(
            0.0, Conditions(in_sun=False, at_rest_min=minutes, clamp_insulated=True)
        )

    assert unrest(30.0) == pytest.approx(unrest(0.0) / 2)
    assert unrest(0.0) == pytest.approx(2.0)
