"""What becomes of a pair after each answer of the service."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.wire.retry import LONGEST_WAIT_S, SET_ASIDE_AFTER, Decision, decide


@pytest.mark.parametrize("status", [200, 201, 204])
def test_taken_is_stored(status: int) -> None:
    assert decide(status, 0, "", 0.5) == Decision("stored", wait_s=0.0, answer="", refused=False)


@pytest.mark.parametrize("status", [None, 401, 403, 408, 423, 425, 429, 500, 502, 503])
def test_a_service_that_is_away_or_shut_is_asked_for_ever(status: int | None) -> None:
    for refusals in (0, SET_ASIDE_AFTER, 10_000):
        found = decide(status, 10_000, "", 0.5, refusals=refusals)
        assert (found.what, found.refused) == ("again", False)


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


@pytest.mark.parametrize("status", [199, 300, 302, 399, 500, 599])
def test_only_a_success_is_stored_and_only_a_refusal_is_one(status: int) -> None:
    found = decide(status, 0, "why", 0.5, refusals=SET_ASIDE_AFTER)
    assert (found.what, found.refused) == ("again", False)


def test_the_edges_of_both_families_of_answers() -> None:
    assert decide(299, 0, "", 0.5).what == "stored"
    assert decide(400, 0, "", 0.5).refused and decide(499, 0, "", 0.5).refused
    assert not decide(401, 0, "", 0.5).refused and not decide(403, 0, "", 0.5).refused


def test_it_is_set_aside_at_the_fifth_refusal_and_not_before() -> None:
    told = [decide(422, 9, "why", 0.5, refusals=before).what for before in range(SET_ASIDE_AFTER)]
    assert told == ["again"] * (SET_ASIDE_AFTER - 1) + ["set-aside"] and SET_ASIDE_AFTER == 5
    last = decide(422, 9, "why", 0.5, refusals=SET_ASIDE_AFTER - 1)
    assert last.refused and last.wait_s == 0.0


@pytest.mark.parametrize(
    ("attempts", "spread", "wait_s"),
    [(0, 0.0, 1.0), (0, 1.0, 2.0), (1, 1.0, 4.0), (4, 0.5, 24.0), (7, 1.0, 256.0), (8, 1.0, 300.0), (12, 0.0, 150.0),
     (1_000_000, 1.0, 300.0)],
)  # fmt: skip
def test_waits_double_up_to_five_minutes_and_are_spread_over_their_upper_half(
    attempts: int, spread: float, wait_s: float
) -> None:
    assert decide(503, attempts, "", spread).wait_s == pytest.approx(wait_s)


@pytest.mark.parametrize(("asked_s", "wait_s"), [(1.0, 2.0), (60.0, 60.0), (300.0, 300.0), (86_400.0, 300.0)])
def test_what_the_service_asks_for_is_waited_but_never_for_hours(asked_s: float, wait_s: float) -> None:
    assert decide(429, 0, "", 1.0, retry_after_s=asked_s).wait_s == wait_s
