"""A device's clock against the worker's: ahead, behind, jumping, from 1970, and a backlog that is none of these."""

from hypothesis import given
from hypothesis import strategies as st

from ingest.estimator.device_clock import LAG_S, PACED_SPAN_S, DeviceClock

START = 1.7e9


def times(leads: list[float], period_s: float = 5.0, delay_s: float = 0.2) -> list[float]:
    """Return event times of readings taken every period by a clock that leads by so much at each."""
    clock = DeviceClock()
    return [
        clock.event_time(START + i * period_s + lead, START + i * period_s + delay_s)
        for i, lead in enumerate(leads)
    ]


@given(st.floats(1.0, 60.0))
def test_a_clock_ahead_is_taken_back_to_arrival_at_once(lead_s: float) -> None:
    told = times([lead_s] * 20)
    assert all(abs(at - (START + 5.0 * i)) <= 0.21 for i, at in enumerate(told))


@given(st.floats(LAG_S + 1.0, 1e9))
def test_a_clock_behind_is_followed_after_a_minute_at_the_pace_of_its_stamps(lag_s: float) -> None:
    told = times([-lag_s] * 60)
    settled = int(PACED_SPAN_S / 5.0) + 3
    assert all(abs(at - (START + 5.0 * i)) <= 1.0 for i, at in enumerate(told) if i >= settled)


def test_a_clock_that_jumps_to_and_fro_never_puts_a_reading_into_the_future() -> None:
    leads = [0.0] * 30 + [50.0] * 30 + [-600.0] * 60 + [30.0] * 30 + [0.0] * 60
    assert all(at <= START + 5.0 * i + 0.2 + 1e-6 for i, at in enumerate(times(leads)))


def test_a_device_that_restarts_in_1970_is_followed_once_its_clock_keeps_pace_and_again_when_it_is_set() -> (
    None
):
    since_1970 = [-(START - 1e9)] * 60
    told = times([0.0] * 30 + since_1970 + [0.0] * 90)
    assert abs(told[80] - (START + 5.0 * 80)) < 1.0
    assert abs(told[-1] - (START + 5.0 * 179)) < 1.0


@given(st.floats(0.0, 86_400.0))
def test_a_backlog_keeps_its_stamps_however_late_it_comes(late_s: float) -> None:
    clock = DeviceClock()
    for i in range(200):
        assert clock.event_time(START + 5.0 * i, START + 995.0 + late_s + 0.01 * i) == START + 5.0 * i
