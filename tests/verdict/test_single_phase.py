import numpy as np
import pytest

from service.verdict.evidence import build
from service.verdict.model import Pair


def read(*points):
    return build([Pair(t, p, 0.05, 1e3, 0.2, 2e3) for t, p in points])


def test_vapour_needs_a_pressure_below_saturation(engine, curves):
    found = engine.single.evaluate(read((298.15, 700e3)))
    r22, r134a = curves.index("R-22"), curves.index("R-134a")
    assert np.isfinite(found.vapour[r22]).any()
    assert found.vapour[r22].max() > -5
    assert found.vapour[r134a].max() < -5


def test_vapour_rises_as_temperature_does(engine, curves):
    r22 = curves.index("R-22")
    like_vapour = engine.single.evaluate(read((285, 500e3), (305, 500e3 * (305 / 285) ** 1.2)))
    like_liquid = engine.single.evaluate(read((285, 500e3), (305, 900e3)))
    assert like_vapour.vapour[r22].max() > like_liquid.vapour[r22].max() + 10


def test_a_heel_that_has_condensed_stands_at_saturation_and_is_told_as_wet(engine, curves):
    r134a = curves.index("R-134a")
    cold = float(curves.bubble_pressure_pa("R-134a", 278.15)[0])
    found = engine.single.evaluate(read((278.15, cold)))
    likely = found.vapour[r134a] > found.vapour[r134a].max() - 1
    assert (likely & found.condensed[r134a]).any()
    assert not (found.condensed[r134a] & found.boiled_dry & likely).any()
    warm = engine.single.evaluate(read((308.15, float(curves.bubble_pressure_pa("R-134a", 308.15)[0]))))
    assert not warm.condensed[r134a][~warm.boiled_dry].any()


def test_what_boiled_dry_counts_among_the_fills(engine, curves):
    r134a = curves.index("R-134a")
    warm = engine.single.evaluate(read((308.15, float(curves.bubble_pressure_pa("R-134a", 308.15)[0]) * 0.8)))
    assert warm.boiled_dry[warm.vapour[r134a].argmax()]


def test_liquid_full_rises_by_bars(engine, curves):
    r22 = curves.index("R-22")
    low = float(curves.bubble_pressure_pa("R-22", 298.15)[0])
    steep = engine.single.evaluate(read((298.15, low + 1e6), (301.15, low + 3.4e6)))
    flat = engine.single.evaluate(read((298.15, low + 1e6), (301.15, low + 1.1e6)))
    assert steep.full[r22] > flat.full[r22]


def test_something_else_is_broad_and_proper(engine):
    pressures = np.exp(np.linspace(np.log(1e3), np.log(5e7), 400))
    density = []
    for p in pressures:
        evidence = read((298.15, p))
        log_density = engine.single.evaluate(evidence).something_else
        density.append(np.exp(log_density - 0.5 * (np.log(2 * np.pi) + evidence.log_det_pressure)))
    assert np.trapezoid(density, np.log(pressures)) == pytest.approx(1.0, abs=0.02)
