"""The clamp's offset before and after a disturbance: the same, doubtful, or a probe that has moved."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.seat import Offset, Seat, SeatSettings

SETTINGS = SeatSettings()
SURE = 0.02**2


def at(offset_k: float, variance: float = SURE, drift_k_s: float = 0.0, temp_k: float = 294.0) -> Offset:
    return Offset(offset_k, variance, temp_k, drift_k_s)


def disturbed(*, drift_k_s: float = 0.0) -> Seat:
    seat = Seat()
    seat.compare(at(1.0, drift_k_s=drift_k_s), SETTINGS)
    seat.disturbed(touched=True)
    return seat


@given(st.floats(-0.2, 0.2))
def test_the_same_offset_becomes_the_reference(change_k: float) -> None:
    seat = disturbed()
    seat.compare(at(1.0 + change_k), SETTINGS)
    assert not seat.moved and not seat.doubtful and not seat.held
    assert seat.reference == at(1.0 + change_k)


@pytest.mark.parametrize("change_k", [0.3, -0.32])
def test_more_than_the_budget_is_doubtful_until_it_comes_back(change_k: float) -> None:
    seat = disturbed()
    seat.compare(at(1.0 + change_k), SETTINGS)
    assert seat.doubtful and not seat.moved
    seat.compare(at(1.0 + 0.5 * change_k), SETTINGS)
    assert not seat.doubtful and not seat.held


def test_a_larger_change_is_a_probe_that_has_moved() -> None:
    seat = disturbed()
    seat.compare(at(1.6), SETTINGS)
    assert seat.moved


def test_an_unsure_look_does_not_replace_what_was_known() -> None:
    seat = disturbed()
    seat.compare(at(1.3, variance=0.14**2), SETTINGS)
    assert not seat.doubtful and seat.held
    seat.compare(at(1.3), SETTINGS)
    assert seat.doubtful, "the offset had changed all along"


def test_a_doubtful_offset_is_taken_when_the_clamp_has_been_seated_anew() -> None:
    seat = disturbed()
    seat.compare(at(1.3), SETTINGS)
    seat.disturbed(touched=True)
    seat.compare(at(1.3), SETTINGS)
    assert not seat.doubtful


def test_a_sensor_that_was_stuck_is_no_clamp_seated_anew() -> None:
    seat = disturbed()
    seat.compare(at(1.3), SETTINGS)
    seat.disturbed(touched=False)
    seat.compare(at(1.3), SETTINGS)
    assert seat.doubtful


def test_a_cylinder_that_drifted_before_is_given_its_gap() -> None:
    seat = disturbed(drift_k_s=-3.0 / 3600.0)
    seat.compare(at(1.5), SETTINGS)
    assert not seat.moved and not seat.doubtful


def test_other_contents_have_another_offset() -> None:
    seat = disturbed()
    seat.compare(at(1.3), SETTINGS)
    seat.forget()
    seat.compare(at(4.0), SETTINGS)
    assert not seat.doubtful and not seat.moved
