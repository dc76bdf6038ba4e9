import numpy as np
import pytest


def test_curves_bands_and_ellipses(engine, at):
    pair = at("R-22", factor=1.06)
    drawn = engine.verdict([pair], chart=True).chart
    clean = next(c for c in drawn.curves if c.kind == "none" and c.designation == "R-22")
    assert min(clean.temp_k) < pair.temp_k < max(clean.temp_k)
    assert np.all(np.array(clean.low_pa) < np.array(clean.pressure_pa))
    assert {c.kind for c in drawn.curves} & {"air", "mixed"}
    ellipse = drawn.pairs[0]
    assert ellipse.temp_sd_k == pytest.approx((0.2**2 + 0.05**2) ** 0.5)
    assert max(ellipse.outline_temp_k) - pair.temp_k == pytest.approx(2.4477 * ellipse.temp_sd_k)
