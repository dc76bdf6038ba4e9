"""Pressure and temperature figures that technicians carry in their heads. Common practice, no source."""

import pytest

from service.refrigerants.curves import SaturationCurves
from service.store.artefacts import load_curves
from service.units import STANDARD_ATMOSPHERE_PA, f_from_k, pa_from_psi

CURVES: SaturationCurves = load_curves()


@pytest.mark.parametrize(
    ("designation", "gauge_psi", "temp_f"),
    [("R-22", 136.0, 76.7), ("R-22", 211.5, 105.1), ("R-410A", 211.5, 72.9)],
)
def test_gauge_pressure_at_sea_level(designation: str, gauge_psi: float, temp_f: float) -> None:
    pressure_pa = pa_from_psi(gauge_psi) + STANDARD_ATMOSPHERE_PA
    assert f_from_k(float(CURVES.bubble_temp_k(designation, pressure_pa))) == pytest.approx(temp_f, abs=0.3)


def test_at_76_f_a_clean_r454b_shows_what_looks_like_a_bad_r410a() -> None:
    pressure_pa = pa_from_psi(211.5) + STANDARD_ATMOSPHERE_PA
    assert f_from_k(float(CURVES.bubble_temp_k("R-454B", pressure_pa))) == pytest.approx(76.0, abs=0.4)
    assert f_from_k(float(CURVES.bubble_temp_k("R-410A", pressure_pa))) < 76.0 - 2.5
