"""Instruments learn from settled pairs and checks; verdicts use what they learned, and never more than that."""

from datetime import timedelta

import pytest

from service.codes import AlarmCode
from service.operations import alarms, cylinders, hookups, instruments, pairs
from service.operations.hookups import NewHookup
from service.operations.instruments import NewCheck
from service.operations.pairs import NewPair, Recorded
from service.operations.support import events
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid, NotFound
from service.store.alarms import Alarm
from service.store.paging import PageRequest
from tests.support.clock import Clock
from tests.support.judge import ScriptedJudge

CLAMP, GAUGE = "clamp-1", "gauge-1"


def read_one(services: Services, actor: Actor, number: int, **values: object) -> Recorded:
    """One cylinder hooked up, read and let go."""
    serial = f"HM-{number}"
    cylinders.register(services, actor, serial, {"place": "shop", "claimed_designation": "r22"})
    hookup = hookups.attach(services, actor, NewHookup(serial, GAUGE, CLAMP))
    found = read_again(services, actor, hookup.id, **values)
    hookups.detach(services, actor, hookup.id)
    return found


def hooked_up(services: Services, actor: Actor) -> None:
    """The set was on a cylinder once, and read nothing."""
    cylinders.register(services, actor, "HM-0", {"place": "shop"})
    hookups.detach(services, actor, hookups.attach(services, actor, NewHookup("HM-0", GAUGE, CLAMP)).id)


def read_again(services: Services, actor: Actor, hookup_id: int, **values: object) -> Recorded:
    pressure = PressureReading(absolute_pa=1_044_000.0)
    given = {"temp_k": 298.0, "pressure": pressure, "temp_bias_k": 0.3, "pressure_bias_pa": 2e3, **values}
    return pairs.record(services, actor, NewPair(hookup_id=hookup_id, **given))  # type: ignore[arg-type]


def standing(services: Services, actor: Actor) -> list[Alarm]:
    page = alarms.listed(services, actor, PageRequest(50), open_only=True, code=AlarmCode.INSTRUMENT_IN_DOUBT)
    return list(page.items)


def test_the_first_cylinder_is_judged_as_read_and_the_next_one_corrected(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.off_k = 0.6
    read_one(services, actor, 1)
    first = judge.asked[-1][0][0]
    assert (first.temp_k, first.temp_bias_k, first.gain_bias) == (298.0, 0.3, 0.0)
    found = read_one(services, actor, 2)
    second = judge.asked[-1][0][0]
    assert 297.3 < second.temp_k < 297.95
    assert found.verdict is not None
    assert any("corrected for" in line and CLAMP in line for line in found.verdict.found.reasons)  # type: ignore[union-attr]


def test_a_cylinder_teaches_once_and_never_vouches_for_itself(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    judge.off_k = 0.6
    cylinders.register(services, actor, "HM-1", {"place": "shop", "claimed_designation": "r22"})
    hookup = hookups.attach(services, actor, NewHookup("HM-1", GAUGE, CLAMP))
    for temp_k in (298.0, 301.0, 304.0):
        read_again(services, actor, hookup.id, temp_k=temp_k)
    assert len(instruments.course(services, actor, CLAMP, GAUGE)) == 1
    assert [pair.temp_k for pair in judge.asked[-1][0]] == [298.0, 301.0, 304.0]


def test_a_set_that_is_off_is_named_within_a_week(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    judge.off_k = 1.6
    for number in range(8):
        clock.forward(hours=12)
        read_one(services, actor, number)
    (alarm,) = standing(services, actor)
    assert alarm.device == CLAMP
    assert GAUGE in alarm.text
    assert "HM-1" in (alarm.details or {})["cylinders"]
    (one,) = instruments.read(services, actor, CLAMP).sets
    assert one.row.combined_k == pytest.approx(1.6, abs=0.2)


def test_a_good_set_and_an_unlabelled_cylinder_raise_nothing(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    for number in range(6):
        read_one(services, actor, number)
    assert standing(services, actor) == []
    (one,) = instruments.read(services, actor, GAUGE).sets
    assert one.row.combined_k == pytest.approx(0.0, abs=0.05)
    assert one.belief.pairs > 5


def test_a_reading_that_disagrees_is_taken_with_more_doubt_than_it_was_believed_to_have(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    for number in range(6):
        read_one(services, actor, number)
    calm = judge.asked[-1][0][0]
    judge.off_k = 1.2
    read_one(services, actor, 7)
    dropped = judge.asked[-1][0][0]
    assert dropped.temp_k == pytest.approx(298.0, abs=0.05)
    assert dropped.temp_bias_k > 1.5 * calm.temp_bias_k


def test_a_gauge_against_an_unknown_air_learns_nothing(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    read_one(services, actor, 1, pressure=PressureReading(gauge_pa=2e5))
    assert instruments.course(services, actor, CLAMP, GAUGE) == []


def test_a_check_before_anything_was_read_counts_from_the_first_reading(
    services: Services, actor: Actor, judge: ScriptedJudge
) -> None:
    hooked_up(services, actor)
    instruments.check(services, actor, NewCheck(CLAMP, "ice-bath", "temperature_k", 0.5))
    read_one(services, actor, 1)
    assert judge.asked[-1][0][0].temp_k == pytest.approx(297.5, abs=0.05)


def test_a_check_teaches_every_set_of_the_device_and_is_told(services: Services, actor: Actor) -> None:
    read_one(services, actor, 1)
    done = instruments.check(services, actor, NewCheck(GAUGE, "open-air", "zero_pa", 5e3))
    (one,) = instruments.read(services, actor, GAUGE).sets
    assert one.row.check_id == done.id
    assert one.belief.moments[0][1] == pytest.approx(5e3, rel=0.1)
    told = events.follow(services, actor, 0)[-1]
    assert (told.type, told.subject) == (events.INSTRUMENT_CHECKED, f"instruments/{GAUGE}")


def test_a_check_is_due_again_and_says_so(services: Services, actor: Actor, clock: Clock) -> None:
    hooked_up(services, actor)
    instruments.check(services, actor, NewCheck(CLAMP, "ice-bath", "temperature_k", 0.0))
    assert not instruments.read(services, actor, CLAMP).overdue
    clock.forward(days=instruments.CHECKED_AGAIN.days + 1)
    assert instruments.read(services, actor, CLAMP).overdue
    assert [one.device for one in instruments.listed(services, actor)] == [CLAMP]


def test_what_was_believed_at_a_time(
    services: Services, actor: Actor, judge: ScriptedJudge, clock: Clock
) -> None:
    read_one(services, actor, 1)
    then = services.now()
    clock.forward(days=3)
    judge.off_k = 1.0
    read_one(services, actor, 2)
    (before,) = instruments.errors_at(services, actor, CLAMP, then)
    (now,) = instruments.errors_at(services, actor, CLAMP, None)
    assert before.row.combined_k == pytest.approx(0.0, abs=0.05)
    assert now.row.combined_k > 0.05
    assert instruments.errors_at(services, actor, CLAMP, then - timedelta(days=1)) == []


@pytest.mark.parametrize(
    ("check", "field"),
    [
        (NewCheck(CLAMP, "ice-bath", "zero_pa", 0.0), "quantity"),
        (NewCheck(CLAMP, "by-eye", "temperature_k", 0.0), "method"),
        (NewCheck(CLAMP, "reference", "temperature_k", 0.1), "uncertainty"),
        (NewCheck(GAUGE, "certificate", "pressure_pa", 10.0, 5.0), "pressure"),
    ],
)
def test_a_check_that_cannot_be_is_refused(
    services: Services, actor: Actor, check: NewCheck, field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        instruments.check(services, actor, check)
    assert [error.field for error in refused.value.errors] == [field]


def test_an_instrument_that_nobody_has_heard_of_is_not_there(services: Services, actor: Actor) -> None:
    with pytest.raises(NotFound):
        instruments.read(services, actor, "no-such")
    with pytest.raises(NotFound):
        instruments.check(services, actor, NewCheck("no-such", "ice-bath", "temperature_k", 0.0))
