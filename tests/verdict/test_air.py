import pytest

from service.verdict import air
from service.verdict.model import CylinderFacts


@pytest.mark.parametrize(("fill", "headspace_g", "dissolved_g"), [(0.80, 0.23, 0.56), (0.25, 0.88, 0.18)])
def test_mass_with_what_is_dissolved(fill, headspace_g, dissolved_g):
    """R-22, 100 kPa of air at 25 °C, one litre, Ostwald coefficient 0.60 (an estimate); computed by hand."""
    share = 0.60 * fill / (0.60 * fill + 1 - fill)
    grams = 1e3 * air._mass(100e3, fill, share, 1e-3)
    assert grams * (1 - share) == pytest.approx(headspace_g, abs=0.01)
    assert grams * share == pytest.approx(dissolved_g, abs=0.01)


def test_no_mass_without_a_capacity(engine, at):
    found = engine.infer([at("R-22", factor=1.1)])
    index = engine.space.designations.index("R-22")
    assert air.estimate(found, engine.space, index, CylinderFacts()).mass_kg is None


def test_the_interval_widens_with_the_thermometer(engine, at):
    index = engine.space.designations.index("R-22")

    def width(bias):
        found = engine.infer([at("R-22", factor=1.1, temp_bias_k=bias)])
        estimate = air.estimate(found, engine.space, index, CylinderFacts())
        return estimate.partial_pressure_high_pa - estimate.partial_pressure_low_pa

    assert width(0.1) < width(0.4) < width(0.8)
