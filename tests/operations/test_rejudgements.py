"""Verdicts are reached again where an instrument was found wrong: one event each, and the alarm lists them."""

import pytest

from service.operations import instruments, rejudgements, verdicts
from service.operations.instruments import NewCheck
from service.operations.support import events
from service.operations.support.context import Actor, Services
from tests.operations.test_instruments import CLAMP, GAUGE, read_one, standing
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge


@pytest.fixture
def wrong(services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock) -> int:
    """A set that is off condemned eight cylinders before it was found; answers the id of the last event."""
    judge.off_k, judge.contamination = 1.6, "mixed"
    for number in range(8):
        clock.forward(hours=12)
        read_one(services, actor, number)
    judge.contamination = "undecided"
    assert standing(services, actor)
    return events.newest_id(services, actor)


def told_since(services: Services, actor: Actor, last: int) -> list[str]:
    found = events.follow(services, actor, last, types=[events.VERDICT_REACHED])
    return [str(one.data["cylinder"]) for one in found]


def test_every_verdict_that_rested_on_it_is_reached_again_and_told_of(
    services: Services, actor: Actor, wrong: int
) -> None:
    rejudgements.review_all(services)
    again = told_since(services, actor, wrong)
    (alarm,) = standing(services, actor)
    details = alarm.details or {}
    assert sorted(again) == sorted(details["cylinders"])
    assert len(again) >= 2
    assert [one["cylinder"] for one in details["judged_anew"]] == again
    assert all(
        (one["before"], one["after"]) == ("R-22, mixed", "R-22, undecided") for one in details["judged_anew"]
    )
    assert verdicts.newest(services, actor, again[0]).found.contamination.finding == "undecided"
    rejudgements.review_all(services)
    assert told_since(services, actor, wrong) == again, "each once"


def test_a_check_by_hand_has_the_same_verdicts_reached_again(
    services: Services, actor: Actor, wrong: int, clock: Clock
) -> None:
    rejudgements.review_all(services)
    last = events.newest_id(services, actor)
    clock.forward(hours=1)
    instruments.check(services, actor, NewCheck(CLAMP, "ice-bath", "temperature_k", 1.6))
    instruments.check(services, actor, NewCheck(GAUGE, "open-air", "zero_pa", 0.0))
    rejudgements.review_all(services)
    assert set(told_since(services, actor, last)) == {f"HM-{number}" for number in range(8)}


def test_a_watch_that_is_told_to_stop_leaves_the_rest_for_the_next_round(
    services: Services, actor: Actor, wrong: int
) -> None:
    rejudgements.review_all(services, lambda: False)
    assert told_since(services, actor, wrong) == []
    rejudgements.review_all(services)
    assert told_since(services, actor, wrong)
