"""Requests are counted in this process, without a thread for each."""

import threading

import pytest

from service.api.http.limit_counts import ProcessCounts


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [1000.0]
    monkeypatch.setattr("service.api.http.limit_counts.time.time", lambda: now[0])
    return now


def test_a_window_counts_and_begins_anew_when_it_is_over(clock: list[float]) -> None:
    counts = ProcessCounts("process://")
    assert [counts.incr("a", 60) for _ in range(3)] == [1, 2, 3]
    assert (counts.get("a"), counts.get_expiry("a")) == (3, 1060.0)
    clock[0] += 59
    assert counts.incr("a", 60) == 4
    clock[0] += 2
    assert counts.get("a") == 0
    assert counts.incr("a", 60) == 1


def test_keys_do_not_share_and_can_be_forgotten(clock: list[float]) -> None:
    counts = ProcessCounts()
    counts.incr("a", 60)
    counts.incr("b", 60)
    counts.clear("a")
    assert (counts.get("a"), counts.get("b")) == (0, 1)
    assert counts.reset() == 1
    assert counts.get("b") == 0


def test_windows_that_are_over_do_not_fill_the_memory(
    clock: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.api.http.limit_counts.SWEEP_AT", 10)
    counts = ProcessCounts()
    for number in range(10):
        counts.incr(str(number), 60)
    clock[0] += 61
    counts.incr("new", 60)
    assert counts.reset() == 1


def test_no_count_is_lost_between_threads() -> None:
    counts = ProcessCounts()
    before = threading.active_count()
    threads = [threading.Thread(target=lambda: [counts.incr("a", 60) for _ in range(500)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert counts.get("a") == 2000
    assert threading.active_count() == before
