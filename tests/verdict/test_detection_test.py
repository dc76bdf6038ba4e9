"""The screen is true: simulated false alarms and power, with fixed seeds."""

import numpy as np
import pytest

from service.verdict import detection, detection_test
from service.verdict.evidence import build
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts

DRAWS = 20_000


def residuals(test, evidence, rng):
    """Residuals [n, k] of clean cylinders: the fill drawn from its prior, errors from the covariance."""
    fills = rng.choice(test.weights.size, size=DRAWS, p=test.weights)
    factor = np.linalg.cholesky(np.linalg.inv(test.inverse))
    return test.offsets[fills] + rng.normal(size=(DRAWS, evidence.count)) @ factor.T


@pytest.mark.parametrize("designation", ["R-22", "R-407C", "R-410A", "R-454B"])
@pytest.mark.parametrize("temps", [(298.15,), (290.0, 305.0)])
def test_air_at_its_limit_is_shown_as_often_as_stated(engine, at, designation, temps):
    evidence = build(condense([at(designation, t) for t in temps]))
    index = engine.space.designations.index(designation)
    test = detection_test.screen(engine.space, evidence, engine.fill.weights(CylinderFacts()), index)
    limit = detection.air_limit(engine.space, evidence, test).partial_pressure_pa
    change = detection.air_change(engine.space, evidence, index, np.array([limit]))[0]
    threshold, _ = test.thresholds(change[None])
    clean = residuals(test, evidence, np.random.default_rng(3))
    false_alarm = (test.statistic(clean, change) > threshold[0]).mean()
    power = (test.statistic(clean + change, change) > threshold[0]).mean()
    assert false_alarm <= 0.05
    assert 0.90 <= power <= 0.97


def test_normal_distribution():
    x = np.array([-3.0, -1.6448536, 0.0, 1.6953977])
    assert detection_test.normal_distribution(x) == pytest.approx([0.0013499, 0.05, 0.5, 0.955], abs=1e-5)


@pytest.mark.parametrize("spread", [0.0, 0.3, 4.0, 40.0])
def test_thresholds_are_the_quantiles_of_what_a_clean_cylinder_and_one_at_the_limit_read(spread):
    rng = np.random.default_rng(11)
    offsets, weights = spread * rng.normal(size=(12, 1)), rng.dirichlet(np.full(12, 0.3))
    offsets[0] += 1e-4
    test = detection_test.Screen(0, np.eye(1), offsets, weights)
    threshold, needed = test.thresholds(np.array([[0.02], [-0.02]]))
    for sign, at, size in zip((1.0, -1.0), threshold, needed, strict=True):
        away = sign * offsets[:, 0]
        passed = 1.0 - detection_test.normal_distribution(at - away) @ weights
        seen = 1.0 - detection_test.normal_distribution(at - size - away) @ weights
        assert passed == pytest.approx(detection_test.FALSE_ALARM, abs=1e-6)
        assert seen == pytest.approx(detection_test.POWER, abs=1e-6)
