"""The clamp's offset: the same as when it was settled, doubtful, or that of a probe that has moved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.estimator.probe_offset import Offset, OffsetMonitor, OffsetSettings

SETTINGS = OffsetSettings()
SURE = 0.02**2


def at(offset_k: float, *, variance: float = SURE, drift_k_s: float = 0.0, stamp_s: float = 0.0) -> Offset:
    return Offset(offset_k, variance, 294.0, drift_k_s, stamp_s)


def settled(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = OffsetMonitor()
    monitor.check_settled(at(1.0, drift_k_s=drift_k_s), SETTINGS, 0.25, is_settled=True)
    return monitor


def doubtful(monitor: OffsetMonitor, now: Offset) -> bool:
    monitor.check_settled(now, SETTINGS, 0.25, is_settled=False)
    return monitor.doubtful


def disturbed(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = OffsetMonitor()
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    monitor.disturbed(touched=True)
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
    monitor.disturbed(touched=False)
    monitor.compare(at(1.6), SETTINGS)
    assert monitor.moved, "a sensor that was stuck is no clamp put on again"
    monitor.disturbed(touched=True)
    monitor.compare(at(1.1), SETTINGS)
    assert not monitor.moved


def test_a_cylinder_that_drifted_before_is_given_its_gap() -> None:
    monitor = disturbed(drift_k_s=-3.0 / 3600.0)
    monitor.compare(at(1.5), SETTINGS)
    assert not monitor.moved


@pytest.mark.parametrize("change_k", [0.3, -0.32])
def test_more_than_the_budget_from_what_was_settled_is_doubtful_until_it_comes_back(change_k: float) -> None:
    monitor = settled()
    assert doubtful(monitor, at(1.0 + change_k))
    assert not doubtful(monitor, at(1.0 + 0.5 * change_k))


def test_an_offset_that_creeps_is_not_followed() -> None:
    monitor = settled()
    crept = [doubtful(monitor, at(1.0 + 0.02 * step, stamp_s=30.0 * step)) for step in range(40)]
    assert crept[-1] and not crept[0]


def test_an_unsure_offset_is_not_doubted() -> None:
    monitor = settled()
    assert not doubtful(monitor, at(1.3, variance=0.14**2))


def test_what_was_settled_long_ago_is_no_measure() -> None:
    monitor = settled()
    assert doubtful(monitor, at(1.4, stamp_s=600.0))
    assert not doubtful(monitor, at(1.4, stamp_s=4 * 3600.0))


def test_a_drift_allows_for_its_gap() -> None:
    assert not doubtful(settled(drift_k_s=-3.0 / 3600.0), at(1.5))


def test_other_contents_have_another_offset() -> None:
    monitor = settled()
    assert doubtful(monitor, at(1.4))
    monitor.forget()
    assert not monitor.doubtful
    assert not doubtful(monitor, at(4.0))


def moved_probe(*, drift_k_s: float = 0.0) -> OffsetMonitor:
    monitor = disturbed(drift_k_s=drift_k_s)
    monitor.compare(at(1.6, drift_k_s=drift_k_s), SETTINGS)
    assert monitor.moved
    return monitor


def test_a_probe_that_was_put_on_again_is_compared_anew_and_one_that_was_not_has_to_come_back() -> None:
    alone, again = moved_probe(), moved_probe()
    alone.compare(at(1.3), SETTINGS)
    assert alone.moved
    again.disturbed(touched=True)
    again.compare(at(1.3), SETTINGS)
    assert not again.moved and not again.reattached


def test_a_probe_that_moved_while_the_cylinder_drifted_must_be_put_on_again() -> None:
    drift_k_s = 0.9 / 3600.0
    monitor = moved_probe(drift_k_s=drift_k_s)
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    assert monitor.moved
    monitor.disturbed(touched=True)
    monitor.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    assert not monitor.moved


def test_the_offset_of_an_undisturbed_clamp_is_followed_however_far_it_goes() -> None:
    monitor = OffsetMonitor()
    monitor.compare(at(1.0), SETTINGS)
    monitor.compare(at(2.0), SETTINGS)
    assert not monitor.moved
    assert monitor.reference == at(2.0)
