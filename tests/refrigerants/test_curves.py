import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.refrigerants.curves import OutOfRange, chebyshev
from service.store.artefacts import load_catalogue, load_curves

CURVES = load_curves()
DESIGNATIONS = st.sampled_from(CURVES.designations)
PLACES = st.floats(0.0, 1.0)


def within(designation: str, place: float) -> float:
    low, high = CURVES.temp_range_k(designation)
    return low + place * (high - low)


def test_the_curves_follow_the_catalogue() -> None:
    assert CURVES.designations == load_catalogue().designations
    stated = [item.relative_uncertainty for item in load_catalogue().values()]
    assert np.array_equal(CURVES.relative_uncertainty, stated)


def test_all_but_the_near_critical_and_the_solid_reach_from_minus_40_to_60() -> None:
    full = [name for name in CURVES.designations if CURVES.temp_range_k(name) == (233.15, 333.15)]
    assert len(full) >= 170


def test_chebyshev_sums_the_series() -> None:
    x = np.linspace(-1, 1, 7)
    coefficients = np.array([[1.0, 2.0, 3.0, -0.5], [0.0, 0.0, 1.0, 0.0]])
    expected = [np.polynomial.chebyshev.chebval(x, row) for row in coefficients]
    assert chebyshev(coefficients, np.stack([x, x])) == pytest.approx(np.array(expected))


@given(DESIGNATIONS, PLACES, PLACES)
def test_pressure_rises_with_temperature(designation: str, first: float, second: float) -> None:
    cold, warm = sorted((within(designation, first), within(designation, second)))
    if warm - cold < 1e-3:
        return
    assert CURVES.bubble_pressure_pa(designation, cold) < CURVES.bubble_pressure_pa(designation, warm)
    assert CURVES.dew_pressure_pa(designation, cold) < CURVES.dew_pressure_pa(designation, warm)


@given(DESIGNATIONS, PLACES)
def test_bubble_lies_on_or_above_dew(designation: str, place: float) -> None:
    temp = within(designation, place)
    bubble, dew = CURVES.bubble_pressure_pa(designation, temp), CURVES.dew_pressure_pa(designation, temp)
    assert bubble >= dew * (1 - 2e-5)


@given(DESIGNATIONS, PLACES)
def test_liquid_is_denser_than_vapour(designation: str, place: float) -> None:
    temp = within(designation, place)
    liquid = CURVES.liquid_density_kg_m3(designation, temp)
    assert liquid > CURVES.vapour_density_kg_m3(designation, temp) > 0


@given(DESIGNATIONS, PLACES)
def test_inverse_comes_back(designation: str, place: float) -> None:
    temp = within(designation, place)
    bubble, dew = CURVES.bubble_pressure_pa(designation, temp), CURVES.dew_pressure_pa(designation, temp)
    assert CURVES.bubble_temp_k(designation, bubble) == pytest.approx(temp, abs=1e-6)
    assert CURVES.dew_temp_k(designation, dew) == pytest.approx(temp, abs=1e-6)


@given(st.floats(233.15, 333.15))
def test_all_at_once_agree_with_one_by_one(temp_k: float) -> None:
    together = {
        CURVES.bubble_pressure_pa: CURVES.log_bubble_pressure(np.array([temp_k])),
        CURVES.dew_pressure_pa: CURVES.log_dew_pressure(np.array([temp_k])),
        CURVES.liquid_density_kg_m3: CURVES.log_liquid_density(np.array([temp_k])),
        CURVES.vapour_density_kg_m3: CURVES.log_vapour_density(np.array([temp_k])),
    }
    for alone, logs in together.items():
        assert logs.shape == (len(CURVES.designations), 1)
        for designation in ("R-22", "R-410A", "R-744", "R-114"):
            low, high = CURVES.temp_range_k(designation)
            value = logs[CURVES.index(designation), 0]
            if low <= temp_k <= high:
                assert np.exp(value) == pytest.approx(float(alone(designation, temp_k)), rel=1e-12)
            else:
                assert np.isnan(value)


@given(st.floats(5e4, 5e6))
def test_all_inverses_agree_with_one_by_one(pressure_pa: float) -> None:
    temps = CURVES.bubble_temps_k(np.array([pressure_pa]))
    for designation in ("R-22", "R-407C", "R-744"):
        value = temps[CURVES.index(designation), 0]
        try:
            alone = float(CURVES.bubble_temp_k(designation, pressure_pa))
        except OutOfRange:
            assert np.isnan(value)
        else:
            assert value == pytest.approx(alone, abs=1e-9)


@pytest.mark.parametrize("temp_k", [0.0, -1.0, 200.0, 400.0, float("nan"), float("inf")])
def test_outside_the_range_is_refused_by_name(temp_k: float) -> None:
    with pytest.raises(OutOfRange, match=r"R-22: temperature.*expected 233\.15 to 333\.15"):
        CURVES.bubble_pressure_pa("R-22", temp_k)
    assert np.isnan(CURVES.log_bubble_pressure(np.array([temp_k]))).all()


@pytest.mark.parametrize("pressure_pa", [-1.0, 0.0, 1.0, 1e9, float("nan")])
def test_a_pressure_off_the_curve_is_refused(pressure_pa: float) -> None:
    with pytest.raises(OutOfRange, match="R-410A: absolute pressure"):
        CURVES.bubble_temp_k("R-410A", pressure_pa)
    assert np.isnan(CURVES.bubble_temps_k(np.array([pressure_pa]))).all()


def test_shapes_are_kept() -> None:
    temps = np.array([[270.0, 280.0, 290.0], [300.0, 310.0, 320.0]])
    pressures = CURVES.bubble_pressure_pa("R-134a", temps)
    assert pressures.shape == temps.shape
    assert CURVES.bubble_temp_k("R-134a", pressures) == pytest.approx(temps)
