"""A sensor that repeats one level: how likely that is, and what the other sensor says about it."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.estimator.stuck_sensor import SensorLevels, StuckWatch, probability_of_run


@pytest.mark.parametrize(("noise_steps", "place"), [(0.2, 0.3), (0.35, 0.0), (0.5, 0.2)])
def test_the_chance_of_a_run_is_what_rounding_gives(noise_steps: float, place: float) -> None:
    rng = Random(7)
    tries = 40_000
    same = sum(all(round(place + rng.gauss(0.0, noise_steps)) == 0 for _ in range(3)) for _ in range(tries))
    given_first = sum(round(place + rng.gauss(0.0, noise_steps)) == 0 for _ in range(tries))
    # Three alike, of which the first is taken as it came: 4 standard deviations of the count.
    expected = probability_of_run(3, noise_steps, (place,)) * given_first
    assert abs(same - expected) < 4.0 * (2.0 * expected) ** 0.5


@given(st.floats(0.1, 2.0), st.integers(2, 400))
def test_a_longer_run_is_less_likely_and_the_middle_the_likeliest_place(noise: float, run: int) -> None:
    assert probability_of_run(run + 1, noise, (0.0,)) <= probability_of_run(run, noise, (0.0,))
    assert probability_of_run(run, noise, (0.3,)) <= probability_of_run(run, noise, (0.0,))


def test_next_to_no_noise_says_nothing() -> None:
    assert probability_of_run(10_000, 0.05, (0.0,)) == 1.0


def moved(watch: StuckWatch, temps: list[float], changes: int, *, may_judge: bool = True) -> None:
    for temp in temps:
        watch.take(SensorLevels(changes, 2, 0.1, temp), may_judge=may_judge)


def test_a_sensor_that_does_not_follow_the_other_is_stuck_until_its_code_changes() -> None:
    watch = StuckWatch()
    moved(watch, [294.0 + 0.1 * i for i in range(12)], changes=5)
    assert watch.is_stuck
    moved(watch, [295.2] * 3, changes=5, may_judge=False)
    assert watch.is_stuck, "what disturbs the other sensor does not bring this one to life"
    moved(watch, [295.2], changes=6)
    assert not watch.is_stuck


def test_what_may_not_be_judged_yet_is_not() -> None:
    watch = StuckWatch()
    moved(watch, [294.0 + 0.1 * i for i in range(12)], changes=5, may_judge=False)
    assert not watch.is_stuck


@pytest.mark.parametrize(("bins", "stuck"), [(4, False), (5, True)])
def test_eight_readings_of_one_level_are_needed(bins: int, stuck: bool) -> None:
    watch = StuckWatch()
    moved(watch, [294.0 + 0.2 * i for i in range(bins)], changes=5)
    assert watch.is_stuck is stuck
