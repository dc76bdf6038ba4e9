"""Conversions against pint as a second opinion, the atmosphere against ICAO's printed rows."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service import units

UREG = pint.UnitRegistry()
REASONABLE = st.floats(min_value=-1e6, max_value=1e6)


@given(REASONABLE)
def test_pressure_agrees_with_pint(value: float) -> None:
    assert units.pa_from_psi(value) == pytest.approx(
        UREG.Quantity(value, "psi").to("Pa").magnitude, rel=1e-12
    )
    assert units.psi_from_pa(units.pa_from_psi(value)) == pytest.approx(value)


@given(st.floats(min_value=-400, max_value=1e4))
def test_temperature_agrees_with_pint(value: float) -> None:
    assert units.k_from_f(value) == pytest.approx(UREG.Quantity(value, "degF").to("K").magnitude, abs=1e-9)
    assert units.k_from_c(value) == pytest.approx(UREG.Quantity(value, "degC").to("K").magnitude, abs=1e-9)
    assert units.f_from_k(units.k_from_f(value)) == pytest.approx(value, abs=1e-9)
    assert units.c_from_k(units.k_from_c(value)) == pytest.approx(value, abs=1e-9)


@given(REASONABLE)
def test_mass_agrees_with_pint(value: float) -> None:
    assert units.kg_from_lb(value) == pytest.approx(UREG.Quantity(value, "lb").to("kg").magnitude, rel=1e-12)
    assert units.lb_from_kg(units.kg_from_lb(value)) == pytest.approx(value)


# ICAO Doc 7488/3, geopotential rows, as commonly reprinted (from memory): Pa at m.
@pytest.mark.parametrize(
    ("elevation_m", "pressure_pa"),
    [
        (0, 101325.0),
        (500, 95460.8),
        (1000, 89874.6),
        (2000, 79495.2),
        (3000, 70108.5),
        (5000, 54019.9),
        (11000, 22632.1),
    ],
)
def test_standard_atmosphere_rows(elevation_m: float, pressure_pa: float) -> None:
    assert units.standard_atmosphere_pa(elevation_m) == pytest.approx(pressure_pa, abs=0.1)


@pytest.mark.parametrize("elevation_m", [-5001, 11001, math.nan, math.inf])
def test_no_atmosphere_where_the_formula_does_not_hold(elevation_m: float) -> None:
    with pytest.raises(ValueError, match="elevation_m must lie between"):
        units.standard_atmosphere_pa(elevation_m)
