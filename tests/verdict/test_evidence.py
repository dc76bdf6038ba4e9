import dataclasses
import math

import numpy as np
import pytest

from service.verdict import evidence
from service.verdict.errors import InvalidEvidence
from service.verdict.model import Pair

PAIR = Pair(298.15, 1e6, 0.1, 2e3, 0.3, 3e3, 0.005, 1e3, "t1", "g1")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("temp_k", 0.0),
        ("temp_k", 473.15),
        ("temp_k", math.nan),
        ("temp_k", "298"),
        ("temp_k", True),
        ("pressure_pa", 0.0),
        ("pressure_pa", -5e3),
        ("pressure_pa", 3e7),
        ("pressure_pa", math.inf),
        ("temp_noise_k", -0.1),
        ("gain_bias", math.nan),
    ],
)
def test_bad_values_are_named(field, value):
    bad = dataclasses.replace(PAIR, **{field: value})
    with pytest.raises(InvalidEvidence) as caught:
        evidence.check([PAIR, bad])
    assert caught.value.field == f"pairs.1.{field}"
    assert caught.value.value is value
    assert caught.value.expected


def test_no_pairs_are_refused():
    with pytest.raises(InvalidEvidence, match="pairs: got 0"):
        evidence.check([])


def test_shared_biases_reach_off_the_diagonal_and_noise_does_not():
    other = dataclasses.replace(PAIR, temp_k=308.15, pressure_pa=1.3e6)
    pressure, temp = evidence.covariances([PAIR, other])
    assert temp[0, 1] == pytest.approx(0.3**2)
    assert temp[0, 0] == pytest.approx(0.3**2 + 0.1**2)
    assert pressure[0, 1] == pytest.approx(3e3**2 / 1.3e12 + 0.005**2 + 1e3**2 / 1.3e12)


def test_another_gauge_shares_only_the_atmosphere():
    other = dataclasses.replace(PAIR, pressure_device="g2")
    pressure, temp = evidence.covariances([PAIR, other])
    assert pressure[0, 1] == pytest.approx(1e3**2 / 1e12)
    assert temp[0, 1] == pytest.approx(0.3**2)


def test_unnamed_devices_are_taken_for_one():
    bare = dataclasses.replace(PAIR, temperature_device=None, pressure_device=None)
    _, temp = evidence.covariances([bare, bare])
    assert temp[0, 1] == pytest.approx(0.3**2)


def test_cross_covariance_agrees_with_the_full_matrix():
    other = dataclasses.replace(PAIR, temp_k=310.0, pressure_pa=1.4e6)
    pressure, temp = evidence.covariances([PAIR, other])
    strange = dataclasses.replace(other, temperature_device="t2", pressure_device="g2")
    levels = np.array([1.4e6, 1.4e6])
    cross_pressure, cross_temp = evidence.cross_covariances([PAIR], [other, strange], levels)
    assert cross_pressure[0, 0] == pytest.approx(pressure[0, 1])
    assert cross_temp[:, 0] == pytest.approx([temp[0, 1], 0.0])
    assert cross_pressure[1, 0] == pytest.approx(1e3**2 / (1e6 * 1.4e6))
    own = pressure[1, 1] + 0.03**2 * temp[1, 1]
    assert evidence.variances([other, strange], levels, np.array([0.03, 0.03])) == pytest.approx(own)


def test_whitening_diagonalises_both_covariances():
    pairs = [
        dataclasses.replace(PAIR, temp_k=t, pressure_pa=p) for t, p in ((290, 8e5), (300, 1e6), (310, 1.3e6))
    ]
    built = evidence.build(pairs)
    v = built.whitening
    slope = evidence.reference_slope(built.temp_k)
    assert np.allclose(v.T @ built.pressure_cov @ v, np.eye(3), atol=1e-9)
    assert np.allclose(
        v.T @ (slope[:, None] * built.temp_cov * slope) @ v, np.diag(built.eigenvalues), atol=1e-9
    )
