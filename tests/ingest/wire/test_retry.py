"""What becomes of a pair after each answer of the service."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.wire.retry import LONGEST_WAIT_S, SET_ASIDE_AFTER, decide


@pytest.mark.parametrize("status", [200, 201, 204])
def test_taken_is_stored(status: int) -> None:
    assert decide(status, 0, "", 0.5).what == "stored"


@pytest.mark.parametrize("status", [None, 401, 403, 408, 425, 429, 500, 502, 503])
def test_a_service_that_is_away_or_shut_is_asked_for_ever(status: int | None) -> None:
    assert decide(status, 10_000, "", 0.5).what == "again"


@pytest.mark.parametrize("status", [400, 404, 409, 413, 422])
def test_a_body_refused_for_good_is_set_aside_after_some_tries(status: int) -> None:
    assert decide(status, 0, "why", 0.5).what == "again"
    last = decide(status, SET_ASIDE_AFTER - 1, "why", 0.5, refusals=SET_ASIDE_AFTER - 1)
    assert (last.what, last.answer) == ("set-aside", "why")


@pytest.mark.parametrize("status", [400, 404, 422])
def test_a_first_refusal_after_a_day_of_outage_is_a_first_refusal(status: int) -> None:
    decision = decide(status, 300, "why", 0.5, refusals=0)
    assert (decision.what, decision.refused) == ("again", True)
    assert not decide(503, 300, "", 0.5).refused


def test_retry_after_is_kept() -> None:
    assert decide(503, 0, "", 0.0, retry_after_s=60.0).wait_s == 60.0


@given(st.integers(0, 10_000), st.floats(0.0, 1.0))
def test_waits_grow_and_stay_bounded(attempts: int, spread: float) -> None:
    now, later = decide(500, attempts, "", spread).wait_s, decide(500, attempts + 1, "", spread).wait_s
    assert 0.0 < now <= later <= LONGEST_WAIT_S
