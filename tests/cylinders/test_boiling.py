"""Boiling off: noticed where liquid boils, not where air, sun, a hose or a clamp is the reason.

Simulated cylinders of the demo's physics, with curves of their own; the bench has all the figures.
"""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.boiling import UNKNOWN_TAU_S, Moment, Recent, boiling_off, quickest_tau_s
from tests.benchmarks.boiling import Heard, boils_at, play
from tests.benchmarks.boiling_courses import clamp_put_on, cold_store, door, fast, hose, quiet, weather

TAU_S = 1500.0
STEP_S = 15.0


def course(wall_k_per_min, lead_k=0.0, *, points=61, falls_from=45):
    """A wall at 295 K that begins to fall, with the pressure of R-22 ahead of it by `lead_k` from there on."""
    curve, made = boils_at("R-22"), []
    for n in range(points):
        after = max(0, n - falls_from)
        wall = 295.0 - wall_k_per_min * after * STEP_S / 60.0
        made.append(Moment(STEP_S * n, wall, pressure_of(curve, wall - lead_k * min(1.0, after / 5))))
    return made


def pressure_of(curve, temp_k):
    low, high = 1e5, 4e6
    while high - low > 1.0:
        middle = 0.5 * (low + high)
        found = curve(middle)
        low, high = (middle, high) if found is None or found < temp_k else (low, middle)
    return low


def noticed(made, **known):
    return boiling_off(Recent(made, 20.0, **known), [boils_at("R-22")], tau_s=TAU_S)


def test_pressure_ahead_of_a_falling_wall_is_boiling_liquid():
    fall = noticed(course(1.5, lead_k=6.0))
    assert fall is not None
    assert fall.wall_k_per_min == pytest.approx(1.5, rel=0.05)
    assert fall.lead_k > 2.5


@pytest.mark.parametrize("made", [course(0.0), course(0.5), course(-2.0), course(0.0, lead_k=6.0)])
def test_quiet_air_cooled_warming_or_a_hose_that_loses_pressure_is_not(made):
    assert noticed(made) is None


def test_without_pressure_a_fall_that_no_air_explains_is_boiling_liquid():
    def silent(rate):
        return [Moment(one.at_s, one.temp_k) for one in course(rate)]

    assert noticed(silent(0.5)) is None
    fall = noticed(silent(6.0))
    assert fall is not None and fall.lead_k is None
    assert noticed(silent(6.0)[-30:]) is None, "a clamp that was put on a moment ago"


def test_air_colder_than_other_thermometers_nearby_explain_is_no_excuse():
    made = [Moment(one.at_s, one.temp_k) for one in course(2.1)]
    assert noticed(made) is None
    assert noticed(made, nearby_k=[318.0]) is not None


@given(points=st.integers(0, 6), rate=st.floats(-30.0, 30.0))
def test_few_points_tell_nothing(points, rate):
    assert noticed(course(rate, points=points, falls_from=0)[:3]) is None


def test_a_cylinder_of_which_too_little_is_known_is_taken_for_a_quick_one():
    known = quickest_tau_s(13.0, 21.6, 8.0)
    assert known > UNKNOWN_TAU_S == quickest_tau_s(None, 21.6, 8.0) == quickest_tau_s(13.0, 21.6, None)
    assert quickest_tau_s(13.0, 21.6, 16.0) > known


@pytest.mark.parametrize("make", [cold_store, door, weather, clamp_put_on, hose, quiet])
def test_no_cold_store_weather_hose_or_clamp_is_taken_for_it(make):
    assert [play(make(rng), rng, Heard()) for rng in map(Random, range(4))] == [None] * 4


def test_a_fast_loss_is_noticed_within_minutes():
    make = fast(0.0, "clamp below the level")
    after_s = sorted(play(make(rng), rng, Heard()) or 1e9 for rng in map(Random, range(8)))
    assert after_s[4] <= 120.0
    assert after_s[-1] <= 300.0
