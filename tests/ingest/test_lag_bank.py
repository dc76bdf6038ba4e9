"""The bank's own promises: what a mixture holds, and what the air may say."""

import math

import numpy as np
import pytest

from ingest.lag_bank import AIR_SAYS, DRIFT, LIQUID, OFFSET, BankSettings, LagBank


def bank() -> LagBank:
    made = LagBank(BankSettings(), 0.0, 294.0)
    made.state[:, DRIFT] = 0.0
    made.cov[:, DRIFT, DRIFT] = 0.0
    made.cov[:, OFFSET, OFFSET] = 0.04
    return made


def test_the_doubt_of_equal_filters_is_their_standard_deviation() -> None:
    assert bank().doubt_k(560.0, 0.0) == pytest.approx(0.2, rel=1e-3)


def test_the_doubt_holds_95_percent_of_a_mixture() -> None:
    made = bank()
    made.weight = np.full(12, 0.05 / 11)
    made.weight[0] = 0.95
    made.cov[1:, OFFSET, OFFSET] = 4.0
    half = 1.96 * made.doubt_k(560.0, 0.0)
    outside = 0.95 * math.erfc(half / 0.2 / math.sqrt(2)) + 0.05 * math.erfc(half / 2.0 / math.sqrt(2))
    assert outside == pytest.approx(0.05, rel=1e-3)


@pytest.mark.parametrize("beside_k", [0.1, 0.3])
def test_what_comes_beside_adds_in_squares(beside_k: float) -> None:
    assert bank().doubt_k(560.0, beside_k) == pytest.approx(math.hypot(0.2, beside_k), rel=1e-3)


def test_drift_widens_the_doubt_by_the_gap() -> None:
    made = bank()
    made.state[:, DRIFT] = 5e-4
    assert made.doubt_k(560.0, 0.0) == pytest.approx(math.hypot(0.2, 0.28), rel=1e-3)


@pytest.mark.parametrize(("air_k", "rests"), [(294.0, True), (275.0, False)])
def test_the_air_moves_the_weight_but_never_decides(air_k: float, rests: bool) -> None:
    made = bank()
    made.cov[:, LIQUID, LIQUID] = 0.01
    before = made.weight[:6].sum() / made.weight[6:].sum()
    made.hear_air(air_k)
    after = made.weight[:6].sum() / made.weight[6:].sum()
    assert bool(after > before) is rests
    assert 1.0 / AIR_SAYS <= after / before <= AIR_SAYS
