"""The clamp's offset: the same as when it was settled, doubtful, or that of a probe that has moved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.estimator.probe_offset import DOUBTED, Offset, OffsetMonitor, OffsetSettings, shift

SETTINGS = OffsetSettings()
SURE = 0.02**2


def at(offset_k: float, *, variance: float = SURE, drift_k_s: float = 0.0, stamp_s: float = 0.0) -> Offset:
    return Offset(offset_k, variance, 294.0, drift_k_s, stamp_s)


def settled(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = OffsetMonitor()
    monitor.check_trusted(at(1.0, drift_k_s=drift_k_s), SETTINGS, 0.25, is_settled=True)
    return monitor


def doubtful(monitor: OffsetMonitor, now: Offset) -> bool:
    monitor.check_trusted(now, SETTINGS, 0.25, is_settled=False)
    return monitor.shift.risk > DOUBTED


def disturbed(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = OffsetMonitor()
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    monitor.disturbed(SETTINGS, touched=True)
    return monitor


@given(st.floats(-0.2, 0.2))
def test_the_same_offset_becomes_the_reference(change_k: float) -> None:
    monitor = disturbed()
    monitor.compare(at(1.0 + change_k), SETTINGS)
    assert not monitor.moved and not monitor.held
    assert monitor.reference == at(1.0 + change_k)


def test_a_large_change_is_a_probe_that_has_moved_until_it_is_seated_anew() -> None:
    monitor = disturbed()
    monitor.compare(at(1.6), SETTINGS)
    assert monitor.moved
    monitor.disturbed(SETTINGS, touched=False)
    monitor.compare(at(1.6), SETTINGS)
    assert monitor.moved, "a sensor that was stuck is no clamp put on again"
    monitor.disturbed(SETTINGS, touched=True)
    monitor.compare(at(1.1), SETTINGS)
    assert not monitor.moved


def test_a_cylinder_that_drifted_before_is_given_its_gap() -> None:
    monitor = disturbed(drift_k_s=-3.0 / 3600.0)
    monitor.compare(at(1.5), SETTINGS)
    assert not monitor.moved


@pytest.mark.parametrize("change_k", [0.3, -0.32, 0.24])
def test_more_than_the_budget_from_what_was_trusted_is_doubtful_until_it_comes_back(change_k: float) -> None:
    monitor = settled()
    assert doubtful(monitor, at(1.0 + change_k))
    assert not doubtful(monitor, at(1.0 + 0.3 * change_k))


def test_an_offset_that_was_found_the_same_is_trusted_from_then_on() -> None:
    monitor = settled()
    assert not doubtful(monitor, at(1.02))
    assert not doubtful(monitor, at(1.4)), "an undisturbed clamp is followed"
    assert monitor.trusted == at(1.4)
    monitor.disturbed(SETTINGS, touched=True)
    assert doubtful(monitor, at(1.0))


def test_an_unsure_offset_decides_nothing() -> None:
    monitor = settled()
    assert not doubtful(monitor, at(1.0, variance=0.11**2))
    assert not monitor.passed and monitor.trusted == at(1.0)


def test_the_offset_just_before_a_disturbance_is_compared_though_nothing_had_settled() -> None:
    monitor = disturbed()
    assert doubtful(monitor, at(1.35))
    monitor.compare(at(1.35), SETTINGS)
    monitor.disturbed(SETTINGS, touched=True)
    assert monitor.trusted == at(1.0), "a doubtful offset is no measure"
    assert doubtful(monitor, at(1.35))


def test_of_two_offsets_before_a_disturbance_the_surer_one_is_kept() -> None:
    drifting = settled()
    drifting.compare(at(1.3, drift_k_s=-3.0 / 3600.0), SETTINGS)
    drifting.disturbed(SETTINGS, touched=True)
    assert drifting.trusted == at(1.0)


def test_what_was_trusted_long_ago_is_no_measure() -> None:
    assert doubtful(settled(), at(1.4, stamp_s=600.0))
    assert not doubtful(settled(), at(1.4, stamp_s=48 * 3600.0))


def test_a_drift_allows_for_its_gap() -> None:
    assert not doubtful(settled(drift_k_s=-3.0 / 3600.0), at(1.4))


def test_what_is_unexplained_of_a_trusted_offset_is_carried() -> None:
    monitor = settled()
    monitor.check_trusted(at(1.12, variance=0.05**2), SETTINGS, 0.25, is_settled=False)
    unexplained_k = monitor.shift.rms_k
    assert 0.03 < unexplained_k < 0.12
    monitor.check_trusted(at(1.12, variance=0.05**2), SETTINGS, 0.25, is_settled=True)
    assert monitor.carried_k == unexplained_k and monitor.shift.rms_k == 0.0


def test_other_contents_have_another_offset() -> None:
    monitor = settled()
    assert doubtful(monitor, at(1.4))
    monitor.forget()
    assert not doubtful(monitor, at(4.0))
    assert monitor.trusted is None


def test_after_the_pressure_moved_a_small_change_is_doubtful_and_a_large_one_that_of_other_contents() -> None:
    monitor = settled()
    monitor.pressure_moved()
    assert not monitor.was_settled
    assert doubtful(monitor, at(1.5))
    assert not doubtful(monitor, at(2.8))
    assert doubtful(settled(), at(2.8)), "with the pressure at rest it is the clamp"


def test_what_cannot_be_compared_holds_nothing_for_good() -> None:
    assert shift(0.3, 0.6**2, 0.25, SETTINGS, 0.2).risk == 0.0
    assert shift(2.0, 0.6**2, 0.25, SETTINGS, 0.2).risk > 0.5


@given(st.floats(-0.24, 0.24), st.floats(0.01, 0.25))
def test_a_larger_change_is_no_less_risky_and_no_less_uncertain(change_k: float, sd_k: float) -> None:
    near, far = (shift(c, sd_k**2, 0.25, SETTINGS, 0.2) for c in (change_k, 2.0 * change_k))
    assert 0.0 <= near.risk <= far.risk + 1e-12 <= 1.0 + 1e-9
    assert near.rms_k <= far.rms_k + 1e-12


def moved_probe(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = disturbed(drift_k_s=drift_k_s)
    monitor.compare(at(1.6, drift_k_s=drift_k_s), SETTINGS)
    assert monitor.moved
    return monitor


def test_a_probe_that_was_put_on_again_is_compared_anew_and_one_that_was_not_has_to_come_back() -> None:
    alone, again = moved_probe(), moved_probe()
    alone.compare(at(1.3), SETTINGS)
    assert alone.moved
    again.disturbed(SETTINGS, touched=True)
    again.compare(at(1.3), SETTINGS)
    assert not again.moved and not again.reattached


def test_a_probe_that_moved_while_the_cylinder_drifted_must_be_put_on_again() -> None:
    drift_k_s = 0.9 / 3600.0
    monitor = moved_probe(drift_k_s=drift_k_s)
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    assert monitor.moved
    monitor.disturbed(SETTINGS, touched=True)
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    assert not monitor.moved


def test_the_offset_of_an_undisturbed_clamp_is_followed_however_far_it_goes() -> None:
    monitor = OffsetMonitor()
    monitor.compare(at(1.0), SETTINGS)
    monitor.compare(at(2.0), SETTINGS)
    assert not monitor.moved
    assert monitor.reference == at(2.0)
