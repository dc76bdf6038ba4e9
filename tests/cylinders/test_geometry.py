from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.geometry import (
    FOOT_M,
    WALL_M,
    NoSuchCylinder,
    Shell,
    liquid_fraction,
    usual_diameter_m,
)

FIFTY = Shell(21.6e-3, 0.299)


def test_a_shell_holds_its_volume():
    assert FIFTY.below(FIFTY.height_m) == pytest.approx(1.0)
    assert FIFTY.below(0.0) == 0.0
    assert FIFTY.below(FIFTY.height_m / 2) == pytest.approx(0.5)


def test_a_head_is_half_of_an_ellipsoid():
    """Volume of a 2:1 ellipsoidal head: pi D^3 / 24 (any handbook of pressure vessels)."""
    assert FIFTY.below(FIFTY.diameter_m / 4) == pytest.approx(pi * 0.299**3 / 24 / 21.6e-3)


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_higher_is_more(first, second):
    low, high = sorted((first, second))
    assert FIFTY.below(low * FIFTY.height_m) <= FIFTY.below(high * FIFTY.height_m) + 1e-12


def test_the_usual_diameter_is_that_of_the_common_cylinders():
    assert usual_diameter_m(21.6e-3) == 0.305
    assert usual_diameter_m(12.2e-3) == 0.24
    odd = usual_diameter_m(35e-3)
    shell = Shell(35e-3, odd - 2 * WALL_M)
    assert shell.height_m / shell.diameter_m == pytest.approx(1.5, rel=0.01)


def test_half_full_by_height():
    share, uncertainty = liquid_fraction(FOOT_M + FIFTY.height_m / 2, 21.6e-3)
    assert share == pytest.approx(0.5, abs=0.01)
    assert 0.03 < uncertainty < 0.08


def test_a_measured_diameter_is_better_known_than_a_usual_one():
    guessed, measured = liquid_fraction(0.15, 21.6e-3)[1], liquid_fraction(0.15, 21.6e-3, 0.305)[1]
    assert measured < guessed


@pytest.mark.parametrize(
    ("height", "volume", "diameter", "said"),
    [
        (2.0, 21.6e-3, None, "height 2.000 m"),
        (-0.1, 21.6e-3, None, "height"),
        (0.1, 21.6e-3, 0.9, "diameter 0.900 m"),
    ],
)
def test_what_no_cylinder_has_is_named(height, volume, diameter, said):
    with pytest.raises(NoSuchCylinder, match=said):
        liquid_fraction(height, volume, diameter)
