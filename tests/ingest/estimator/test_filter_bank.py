"""The bank's own promises: what a mixture holds, what the air may say, and numbers that stay numbers."""

import math

import numpy as np
import pytest

from ingest.estimator.filter_bank import (
    AIR_SAYS,
    BODY,
    DRIFT,
    FIRST,
    LAG,
    LIQUID,
    OFFSET,
    PRUNED_BELOW,
    FilterBank,
)
from ingest.estimator.filter_settings import FilterSettings


def bank() -> FilterBank:
    made = FilterBank(FilterSettings(), 0.0, 294.0)
    made.state[:, DRIFT] = 0.0
    made.cov[:, DRIFT, DRIFT] = 0.0
    made.cov[:, OFFSET, OFFSET] = 0.04
    return made


def test_the_doubt_of_equal_filters_is_their_standard_deviation() -> None:
    assert bank().standard_uncertainty_k(560.0, 0.0) == pytest.approx(0.2, rel=1e-3)


def test_the_doubt_holds_95_percent_of_a_mixture() -> None:
    made = bank()
    made.weight = np.full(12, 0.05 / 11)
    made.weight[0] = 0.95
    made.cov[1:, OFFSET, OFFSET] = 4.0
    half = 1.96 * made.standard_uncertainty_k(560.0, 0.0)
    outside = 0.95 * math.erfc(half / 0.2 / math.sqrt(2)) + 0.05 * math.erfc(half / 2.0 / math.sqrt(2))
    assert outside == pytest.approx(0.05, rel=1e-3)


@pytest.mark.parametrize("beside_k", [0.1, 0.3])
def test_what_comes_beside_adds_in_squares(beside_k: float) -> None:
    assert bank().standard_uncertainty_k(560.0, beside_k) == pytest.approx(
        math.hypot(0.2, beside_k), rel=1e-3
    )


def test_drift_widens_the_doubt_by_the_gap() -> None:
    made = bank()
    made.state[:, DRIFT] = 5e-4
    assert made.standard_uncertainty_k(560.0, 0.0) == pytest.approx(math.hypot(0.2, 0.28), rel=1e-3)


@pytest.mark.parametrize(("air_k", "rests"), [(294.0, True), (275.0, False)])
def test_the_air_moves_the_weight_but_never_decides(air_k: float, rests: bool) -> None:
    made = bank()
    made.cov[:, LIQUID, LIQUID] = 0.01
    before = made.weight[:6].sum() / made.weight[6:].sum()
    made.hear_air(air_k)
    after = made.weight[:6].sum() / made.weight[6:].sum()
    assert bool(after > before) is rests
    assert 1.0 / AIR_SAYS <= after / before <= AIR_SAYS


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("learned", [-900.0, 900.0])
def test_a_lag_learned_from_nonsense_stays_within_reason(learned: float) -> None:
    bank = FilterBank(FilterSettings(), 0.0, 295.0)
    bank.state[:, LAG] = learned
    bank.predict(60.0)
    bank.update(bank.clamp_row(-50.0), 300.0, 0.01)
    assert np.isfinite(bank.state).all()
    assert np.isfinite(bank.cov).all()


@pytest.mark.filterwarnings("ignore:invalid value")
def test_filters_without_numbers_say_so_instead_of_claiming_to_be_sure() -> None:
    bank = FilterBank(FilterSettings(), 0.0, 295.0)
    bank.state[:] = np.nan
    with pytest.raises(FloatingPointError):
        bank.update(bank.gauge_row(0.0), 300.0, 0.01)


def test_a_remembered_lag_is_where_the_filters_near_it_start() -> None:
    made = FilterBank(FilterSettings(), 0.0, 294.0, known_lag_s=50.0)
    lags = made.first_s * np.exp(made.state[:, LAG])
    near = np.isclose(lags, 50.0)
    assert made.weight[near].sum() > 0.9 * (1.0 - FilterSettings().no_lag_weight)
    assert np.all(made.cov[near, LAG, LAG] < 0.16**2)


def test_a_clamp_on_the_wall_is_not_taken_for_one_from_a_pocket() -> None:
    made = bank()
    made.reopen(on_wall=True)
    assert made.cov[0, FIRST, FIRST] == pytest.approx(made.settings.touched_k**2)
    made.reopen()
    assert made.cov[0, FIRST, FIRST] == pytest.approx(made.settings.first_k**2)


def test_rest_wanders_less_than_movement() -> None:
    made = bank()
    made.predict(600.0)
    assert made.cov[0, DRIFT, DRIFT] < 0.3 * made.cov[6, DRIFT, DRIFT]


def fed(until_s: float, clamp_k: float = 295.0, z_k: float = 294.0) -> FilterBank:
    made = FilterBank(FilterSettings(), 0.0, clamp_k)
    for step in range(1, int(until_s / 20.0)):
        made.predict(20.0 * step)
        made.update(made.gauge_row(-5.0), z_k, 0.02**2)
        made.update(made.clamp_row(-5.0), clamp_k, 0.03**2)
    return made


def test_a_surprise_does_not_wake_a_filter_that_had_lost_its_way() -> None:
    made, lost = fed(600.0), 4
    made.state[lost, [LIQUID, OFFSET]] += 130.0
    made.state[lost, BODY] -= 130.0
    made.cov[lost, BODY, BODY] = made.cov[lost, OFFSET, OFFSET] = 0.3
    made.log_weight[lost] = -60.0
    for step in range(4):
        made.predict(620.0 + 20.0 * step)
        made.update(made.gauge_row(-5.0), 294.0, 0.02**2)
        made.update(made.clamp_row(-5.0), 295.0 if step < 2 else 294.1, 0.03**2)
    assert abs(made.mixed(BODY)[0]) < 1.5
    assert abs(made.mixed(OFFSET)[0]) < 2.5


def test_no_filter_is_left_without_hope() -> None:
    assert fed(8000.0).weight.min() >= PRUNED_BELOW


def test_the_body_lags_to_the_same_side() -> None:
    made = FilterBank(FilterSettings(), 0.0, 294.0)
    fresh = made.first_s > 1.0
    assert np.all(made.cov[fresh, FIRST, BODY] > 0.0)
    assert np.all(np.linalg.eigvalsh(made.cov) > 0.0)


def test_what_is_expected_is_what_an_update_finds() -> None:
    made = fed(600.0)
    row = made.clamp_row(3.0)
    expected = made.expect(row, 295.4)
    assert made.update(row, 295.4, 0.0) == pytest.approx(expected)
