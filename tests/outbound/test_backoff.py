"""Delays grow, stay bounded, heed the receiver, and end."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.outbound.backoff import Backoff, retry_after

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
RULE = Backoff()
JITTER = st.floats(0, 1, exclude_max=True)


@given(st.integers(1, 10_000), JITTER)
def test_delay_is_within_half_and_all_of_the_exponential(failures: int, jitter: float) -> None:
    full = min(5.0 * 3.0 ** min(failures - 1, 64), 4 * 3600.0)
    assert full / 2 <= RULE.delay(failures, jitter).total_seconds() <= full


@given(st.integers(1, 30), JITTER)
def test_twice_as_many_failures_never_wait_less_at_equal_jitter(failures: int, jitter: float) -> None:
    assert RULE.delay(failures, jitter) <= RULE.delay(failures + 1, jitter)


@given(st.integers(1, 30), JITTER, st.integers(0, 10**9))
def test_retry_after_lengthens_but_never_shortens_and_is_bounded(n: int, jitter: float, asked: int) -> None:
    wait = RULE.delay(n, jitter, timedelta(seconds=asked))
    assert wait >= RULE.delay(n, jitter)
    assert wait >= min(timedelta(seconds=asked), timedelta(hours=24))
    assert wait <= timedelta(hours=24)


def test_gives_up_after_the_stated_time_and_not_before() -> None:
    assert not RULE.exhausted(NOW, NOW + timedelta(hours=71, minutes=59))
    assert RULE.exhausted(NOW, NOW + timedelta(hours=72))


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("120", 120),
        (" 5 ", 5),
        ("Sun, 01 Mar 2026 12:01:00 GMT", 60),
        ("Sun, 01 Mar 2026 11:59:00 GMT", None),
        ("-1", None),
        ("soon", None),
        ("", None),
        ("9" * 400, None),
        ("٣", None),
    ],
)
def test_retry_after_header(text: str, seconds: int | None) -> None:
    expected = None if seconds is None else timedelta(seconds=seconds)
    assert retry_after({"Retry-After": text}, NOW) == expected


def test_no_header_asks_for_nothing() -> None:
    assert retry_after({}, NOW) is None
