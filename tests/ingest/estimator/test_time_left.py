"""What is told of the time left on single courses; how often the range holds is for the bench."""

from typing import Any

from demo.physics import Rig, Surroundings
from ingest.estimator import time_left as module
from ingest.estimator.settling import Settling
from ingest.estimator.settling_settings import SettlingSettings
from ingest.estimator.time_left import TimeLeft, time_left
from ingest.sessions.session import Session
from ingest.sessions.snapshot import restore, serialize
from tests.ingest.estimator.test_settling import ROOM, play, rig


def told_during(
    made: Rig, until_s: float, each_s: float = 60.0, **more: Any
) -> tuple[Session, list[tuple[float, TimeLeft | None, bool]]]:
    """Play in steps; returns the session, and at the end of each step what is told and whether it is settled."""
    session, told = None, []
    for step in range(int(until_s / each_s)):
        session, _ = play(made, each_s, session=session, start_s=step * each_s, **more)
        settling = session.settling
        left = time_left(settling) if settling.provisional() is not None else None
        told.append(((step + 1) * each_s, left, settling.settled))
    assert session is not None
    return session, told


def test_the_claim_of_a_fresh_clamp_comes_within_the_range_and_the_wait_gets_shorter() -> None:
    _, told = told_during(rig(), 900.0, each_s=30.0)
    settled_s = next(at_s for at_s, _, settled in told if settled)
    waits = [(at_s, left) for at_s, left, _ in told if left is not None and at_s < settled_s]
    assert len(waits) >= 3
    for at_s, left in waits:
        assert left.least_s - 30.0 <= settled_s - at_s <= left.most_s, (at_s, left)
        assert left.least_s <= left.expected_s <= left.most_s
    assert waits[-1][1].expected_s < waits[0][1].expected_s


def test_nothing_is_told_before_there_is_a_pair_nor_once_it_is_settled() -> None:
    _, told = told_during(rig(), 900.0)
    assert told[0][1] is None
    assert told[-1][1:] == (None, True)
    assert time_left(Settling(SettlingSettings())) is None


def test_a_moved_cylinder_takes_hours_which_is_told_once_its_drift_is_seen_to_die_away() -> None:
    _, told = told_during(rig(start_k=ROOM + 15), 5400.0, each_s=300.0)
    assert [left for at_s, left, _ in told if at_s <= 1200.0] == [None] * 4
    known = [left for at_s, left, _ in told if at_s >= 2100.0]
    assert all(left is not None and 1800.0 < left.expected_s < 6 * 3600.0 for left in known)
    assert known[-1].expected_s < known[0].expected_s - 1800.0


def test_a_drift_that_the_sun_keeps_up_says_nothing() -> None:
    session, told = told_during(
        rig(), 10800.0, each_s=600.0, around=lambda t: Surroundings(ROOM + 10.0 * t / 3600.0)
    )
    assert session.settling.state() == "warming"
    assert told[-1][1] is None
    assert session.settling.provisional() is not None


def test_a_probe_that_is_stuck_waits_for_something_else_than_time() -> None:
    def freeze(t: float, made: Rig) -> None:
        if t >= 300.0 and made.clamp.stuck_at_k is None:
            made.clamp.stuck_at_k = made.clamp_reading()

    session, told = told_during(rig(start_k=ROOM + 15), 3600.0, each_s=600.0, act=freeze)
    assert "probe-stuck" in session.reasons()
    assert told[-1][1] is None


def test_a_range_too_wide_to_mean_anything_is_not_told() -> None:
    seen = module.Outlook(6.0, 0.3, 1.0, 6.0, drifts=False)
    row = (0.0, 1.0, 0.0, 0.0, 0.0)
    assert module.judged(seen, (row, row, row)) is not None
    assert module.judged(seen, (row, row, (2.6, 1.0, 0.0, 0.0, 0.0))) is None


def test_what_a_restored_session_tells_is_the_same() -> None:
    session, _ = told_during(rig(start_k=ROOM + 15), 3600.0, each_s=3600.0)
    again = restore(serialize(session), session.hookup, SettlingSettings())
    assert again is not None
    assert time_left(again.settling) == time_left(session.settling) is not None
