"""Verdicts are reached again where an instrument was found wrong: one event each, and the alarm lists them."""

import pytest

from service.operations import instruments, rejudgements, verdicts
from service.operations.instruments import NewCheck
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.store import rejudgements as stored
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


def test_verdicts_are_reached_again_where_an_instrument_is_believed_to_be_off_by_something_else(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    """No alarm: half a kelvin is within its class, and yet more than a verdict should leave uncorrected."""
    judge.off_k = 0.6
    for number in range(7):
        clock.forward(hours=12)
        read_one(services, actor, number)
    assert standing(services, actor) == []
    rejudgements.review_all(services)
    first = next(pairs for pairs, _ in reversed(judge.asked) if pairs[0].temp_k < 297.6)
    assert first[0].temp_k == pytest.approx(297.4, abs=0.15), "corrected by what the others taught since"
    last = events.newest_id(services, actor)
    for number in range(7, 10):
        clock.forward(hours=12)
        read_one(services, actor, number)
    rejudgements.review_all(services)
    again = [one for one in told_since(services, actor, last) if one < "HM-7"]
    assert again == [], "it moved no further"


def test_each_cylinder_waits_once_and_an_alarm_takes_over_those_that_wait(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    judge.off_k = 1.6
    for number in range(8):
        clock.forward(hours=12)
        read_one(services, actor, number)
    with services.database.reading(actor.organisation_id) as work:
        waiting = stored.waiting(work, 100)
    ids = [one.cylinder_id for one in waiting]
    assert len(ids) == len(set(ids))
    assert any(one.alarm_id is not None for one in waiting)


def test_no_more_cylinders_wait_than_were_asked_for(services: Services, actor: Actor, clock: Clock) -> None:
    for number in range(4):
        clock.forward(hours=1)
        read_one(services, actor, number)
    with services.database.writing(actor.organisation_id) as work:
        stored.done(work, [one.id for one in stored.waiting(work, 100)])
        stored.ask(work, CLAMP, GAUGE, alarm_id=None, at=services.now(), besides=4, limit=2)
        found = {one.cylinder_id for one in stored.waiting(work, 100)}
    assert found == {2, 3}, "those that were read last, and not the one that is judged anyway"
