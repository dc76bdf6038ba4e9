"""The expected texts were worked out by hand from the exact definitions of the units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.board.quantities import MINUS, Quantities, decimals_borne, fixed, number, percent

SI, INCH_POUND = Quantities(), Quantities(inch_pound=True)
S = "\u202f"


@pytest.mark.parametrize(
    ("uncertainty", "decimals"),
    [(0.3, 1), (0.1, 1), (0.09, 2), (1.0, 0), (0.96, 0), (0.94, 1), (5.0, 0), (12.0, -1), (300.0, -2)],
)
def test_the_last_digit_has_the_magnitude_of_the_uncertainty(uncertainty: float, decimals: int) -> None:
    assert decimals_borne(uncertainty) == decimals


@pytest.mark.parametrize("uncertainty", [0.0, -1.0, float("nan"), float("inf")])
def test_a_senseless_uncertainty_is_named(uncertainty: float) -> None:
    with pytest.raises(ValueError, match="expected a finite number above 0"):
        decimals_borne(uncertainty)


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e3))
def test_rounding_moves_a_value_by_less_than_its_uncertainty(value: float, uncertainty: float) -> None:
    shown = float(number(value, uncertainty).replace(MINUS, "-"))
    assert abs(shown - value) <= 0.55 * uncertainty + 1e-9


def test_no_negative_zero() -> None:
    assert fixed(-0.04, 1) == "0.0"
    assert fixed(-0.06, 1) == f"{MINUS}0.1"


def test_temperatures_in_both_systems() -> None:
    assert SI.temperature(298.15, 0.3) == f"25.0{S}°C"
    assert INCH_POUND.temperature(298.15, 0.3) == f"77.0{S}°F"
    assert INCH_POUND.temperature(298.15, 0.6) == f"77{S}°F"
    assert SI.temperature(None) == "not known"


def test_a_temperature_difference_is_signed_and_has_no_offset() -> None:
    assert SI.kelvins(0.72, 0.1) == f"+0.7{S}K"
    assert INCH_POUND.kelvins(-1.0, 0.1) == f"{MINUS}1.8{S}°F"
    assert SI.kelvins(0.01, 0.1) == f"0.0{S}K"


def test_pressures_say_what_they_are_against() -> None:
    assert SI.absolute(1_044_000.0, 5_000.0) == f"1044{S}kPa absolute"
    assert INCH_POUND.gauge(689_475.729, 700.0) == f"100.0{S}psi gauge"


def test_masses() -> None:
    assert SI.mass(8.04) == f"8.0{S}kg"
    assert INCH_POUND.mass(0.45359237 * 20) == f"20.0{S}lb"


def test_a_share_is_never_none_and_never_all() -> None:
    assert percent(0.9999) == f">99{S}%"
    assert percent(0.001) == f"<1{S}%"
    assert percent(0.97) == f"97{S}%"


def test_a_mass_to_stop_at_is_never_rounded_up() -> None:
    assert Quantities().mass_below(19.99) == "19.9\u202fkg"
    assert Quantities().mass_below(20.0) == "20.0\u202fkg"
    assert Quantities(inch_pound=True).mass_below(18.03) == "39.7\u202flb"  # 39.749 lb
