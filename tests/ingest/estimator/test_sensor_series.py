"""Reading-quality rules: each has a name that the worker counts, and a case here."""

import math
from random import Random

import pytest

from ingest.estimator.sensor_series import PRESSURE_LIMITS, TEMPERATURE_LIMITS, SensorSeries, common_step

START = 1.7e9


def series(values: list[float], period_s: float = 5.0, limits=TEMPERATURE_LIMITS) -> SensorSeries:
    fed = SensorSeries(limits)
    for i, value in enumerate(values):
        fed.take(START + i * period_s, value, START + i * period_s + 0.2)
    return fed


def noisy(
    count: int, level: float = 295.0, sigma: float = 0.05, step: float = 0.0, seed: int = 1
) -> list[float]:
    rng = Random(seed)
    values = [level + rng.gauss(0.0, sigma) for _ in range(count)]
    return [round(v / step) * step for v in values] if step else values


def test_a_repeat_is_dropped() -> None:
    fed = series(noisy(10))
    assert fed.take(START + 45.0, 295.0, START + 50.0) == ((), "duplicate")


def test_two_gateways_that_forward_the_same_device_count_once() -> None:
    fed = SensorSeries(TEMPERATURE_LIMITS)
    reasons = []
    for i, value in enumerate(noisy(50)):
        fed.take(START + 5 * i, value, START + 5 * i + 0.1)
        reasons.append(fed.take(START + 5 * i, value, START + 5 * i + 1.4)[1])
    assert fed.accepted == 50
    assert set(reasons) == {"duplicate"}


def test_older_than_the_newest_is_late() -> None:
    fed = series(noisy(10))
    assert fed.take(START + 42.0, 295.0, START + 50.0) == ((), "late")


@pytest.mark.parametrize("value", [100.0, 500.0])
def test_outside_the_range_is_dropped(value: float) -> None:
    fed = series(noisy(10))
    assert fed.take(START + 50.0, value, START + 50.2) == ((), "out-of-range")
    assert fed.take(START + 55.0, 295.0, START + 55.2)[1] is None


def test_below_vacuum_is_dropped() -> None:
    fed = series([1e6] * 5, limits=PRESSURE_LIMITS)
    assert fed.take(START + 50.0, -5.0, START + 50.2)[1] == "out-of-range"


def test_a_single_wild_value_never_gets_in() -> None:
    fed = series(noisy(20))
    assert fed.take(START + 100.0, 340.0, START + 100.2) == ((), None)
    accepted, reason = fed.take(START + 105.0, 295.0, START + 105.2)
    assert [value for _, value in accepted] == [295.0]
    assert reason == "wild"


def test_a_step_is_accepted_when_the_next_reading_agrees() -> None:
    fed = series(noisy(20))
    assert fed.take(START + 100.0, 305.0, START + 100.2) == ((), None)
    accepted, reason = fed.take(START + 105.0, 305.05, START + 105.2)
    assert [value for _, value in accepted] == [305.0, 305.05]
    assert reason is None


def test_noise_is_learned_and_a_ramp_does_not_harm_it() -> None:
    ramp = [value + 0.02 * i for i, value in enumerate(noisy(400, sigma=0.08))]
    assert series(ramp).noise == pytest.approx(0.08, rel=0.3)


def test_the_step_is_learned_and_one_wild_value_does_not_spoil_it() -> None:
    assert series(noisy(100, sigma=0.1, step=0.1)).step == pytest.approx(0.1, abs=1e-6)
    assert series(
        noisy(100, level=1e6, sigma=900.0, step=689.4757), limits=PRESSURE_LIMITS
    ).step == pytest.approx(689.4757, abs=1e-3)
    values = noisy(100, sigma=0.1, step=0.1)
    values[50] += 0.037
    assert series(values).step == pytest.approx(0.1, abs=1e-6)


def test_common_step_of_continuous_values_is_none() -> None:
    assert common_step(0.1234567, 0.0771113, 2e-3) == 0.0


def test_a_noisy_sensor_that_repeats_one_code_is_doubtful() -> None:
    fed = series(noisy(100, sigma=0.1, step=0.1))
    assert not fed.is_stuck
    for i in range(40):
        fed.take(START + 500 + 5 * i, 295.0, START + 500.2 + 5 * i)
    assert fed.is_stuck


def test_a_quiet_coarse_sensor_repeats_its_code_by_nature() -> None:
    assert not series([295.0] * 500).is_stuck


def test_a_run_that_is_not_yet_stuck_holds_a_claim_back() -> None:
    fed = series(noisy(100, sigma=0.04, step=0.1))
    assert not fed.is_suspect
    runs = []
    for i in range(120):
        fed.take(START + 500 + 5 * i, 295.0, START + 500.2 + 5 * i)
        runs.append((fed.is_suspect, fed.is_stuck))
    assert runs.index((True, False)) > 10
    assert not any(suspect for suspect, _ in runs[:8])
    for i, value in enumerate((295.1, 295.0)):
        fed.take(START + 1200 + 5 * i, value, START + 1200.2 + 5 * i)
    assert not fed.is_suspect


def test_coarse_levels_that_go_one_way_and_stop_need_a_sign_of_life() -> None:
    fall = [299.0, 297.5, 296.5, 296.0, 295.5]
    fed = series([*fall, *[295.0] * 60], period_s=10.0)
    assert fed.is_coarse and fed.is_suspect
    end_s = START + 10.0 * (len(fall) + 60)
    fed.take(end_s, 295.5, end_s + 0.2)
    assert not fed.is_suspect, "it changed back: it lives"


def test_coarse_levels_that_have_stood_for_long_are_believed() -> None:
    fed = series([299.0, 297.0, 296.0, 295.5, *[295.0] * 80], period_s=10.0)
    assert fed.is_suspect
    for i in range(84, 96):
        fed.take(START + 10.0 * i, 295.0, START + 10.0 * i + 0.2)
    assert not fed.is_suspect


def test_a_sudden_stop_needs_three_changes_before_it_is_believed() -> None:
    fall = [round(310.0 - 0.47 * i, 1) for i in range(16)]
    fed = series([*fall, *[fall[-1]] * 10])
    assert fed.is_stuck
    for i, value in enumerate((302.8, 302.7, 302.6)):
        fed.take(START + 200 + 5 * i, value, START + 200.2 + 5 * i)
    assert not fed.is_stuck


def test_a_clock_ahead_is_taken_back_to_arrival() -> None:
    fed = SensorSeries(TEMPERATURE_LIMITS)
    for i in range(20):
        fed.take(START + 5 * i + 30.0, 295.0, START + 5 * i)
    assert fed.newest_s == pytest.approx(START + 95.0, abs=0.01)


def test_a_clock_that_was_ahead_and_is_put_right_goes_on() -> None:
    fed = SensorSeries(TEMPERATURE_LIMITS)
    for i in range(200):
        lead = 30.0 if i < 50 else 0.0
        fed.take(START + 5 * i + lead, 295.0 + 0.01 * (i % 3), START + 5 * i + 0.2)
    assert fed.newest_s == pytest.approx(START + 995.0, abs=1.0)


def test_a_clock_set_back_by_an_hour_goes_on_after_a_minute() -> None:
    fed = SensorSeries(TEMPERATURE_LIMITS)
    dropped = 0
    for i in range(200):
        back = 3600.0 if i >= 100 else 0.0
        _, reason = fed.take(START + 5 * i - back, 295.0 + 0.01 * (i % 3), START + 5 * i + 0.2)
        dropped += reason == "late"
    assert dropped < 20
    assert fed.newest_s == pytest.approx(START + 995.0, abs=1.0)


def test_a_backlog_in_seconds_leaves_the_stamps_alone() -> None:
    fed = SensorSeries(TEMPERATURE_LIMITS)
    for i in range(500):
        fed.take(START + 5 * i, 295.0 + 0.01 * (i % 3), START + 9000.0 + 0.01 * i)
    assert fed.newest_s == START + 2495.0
    assert fed.accepted == 500


def test_a_clamp_that_freezes_while_it_still_falls_is_doubtful() -> None:
    """Quiet levels 0.1 K wide: an exponential of 34 s that stops dead after a minute, 1.5 K above its end."""
    rng = Random(3)
    falling = [
        round((294.0 + 9.0 * math.exp(-t / 34.0) + rng.gauss(0, 0.03)) * 10) / 10 for t in range(0, 62, 2)
    ]
    fed = series(falling, period_s=2.0)
    assert not fed.is_stuck
    for i in range(40):
        fed.take(START + 62 + 2 * i, falling[-1], START + 62.2 + 2 * i)
    assert fed.is_stuck


@pytest.mark.parametrize("lag_s", [20.0, 60.0, 150.0])
@pytest.mark.parametrize("step_k", [0.05, 0.1, 0.5])
def test_a_clamp_that_comes_to_rest_by_itself_is_believed(lag_s: float, step_k: float) -> None:
    doubted = 0
    for seed in range(10):
        rng, fed = Random(seed), SensorSeries(TEMPERATURE_LIMITS)
        for t in range(0, 1800, 5):
            value = 294.03 + 9.0 * math.exp(-t / lag_s) + rng.gauss(0, 0.03)
            fed.take(START + t, round(value / step_k) * step_k, START + t + 0.2)
        doubted += fed.is_stuck
    assert doubted == 0


def test_the_first_changes_tell_a_step_that_later_ones_would_only_confirm() -> None:
    assert series([295.9, 295.9, 295.0, 295.1, 294.7]).step == pytest.approx(0.1, abs=1e-6)
