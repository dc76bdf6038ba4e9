"""What cannot be read is shown for an hour, is an alarm after ten minutes, and never grows without end."""

from dataclasses import replace

from service.codes import AlarmCode
from service.operations import alarms, live, not_understood
from service.operations.not_understood import MOST_KEPT, Unread
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.support.clock import Clock


def unread(services: Services, source: str = "probe-1", **values: object) -> Unread:
    at = services.now()
    usual = Unread(source, "unit", "in 'psi', expected Pa", "[...]", False, 3, at, at, "shop")
    return replace(usual, **values)  # type: ignore[arg-type]


def say(services: Services, actor: Actor, *said: Unread) -> None:
    live.put(services, actor, [], [], list(said))


def standing(services: Services, actor: Actor) -> list[str]:
    found = alarms.listed(services, actor, PageRequest(), open_only=True, code=AlarmCode.NOT_UNDERSTOOD).items
    return [alarm.device or "" for alarm in found]


def test_messages_add_up_from_the_first_one(any_services: Services, any_actor: Actor, clock: Clock) -> None:
    began = any_services.now()
    say(any_services, any_actor, unread(any_services))
    clock.forward(minutes=5)
    say(any_services, any_actor, unread(any_services, detail="in 'bar', expected Pa"))
    (one,) = not_understood.of_late(any_services, any_actor)
    assert (one.count, one.detail) == (6, "in 'bar', expected Pa")
    assert (one.first_seen_at, one.last_seen_at) == (began, any_services.now())


def test_what_was_quiet_for_an_hour_begins_again(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    say(any_services, any_actor, unread(any_services))
    clock.forward(minutes=61)
    assert not_understood.of_late(any_services, any_actor) == []
    say(any_services, any_actor, unread(any_services))
    (one,) = not_understood.of_late(any_services, any_actor)
    assert (one.count, one.first_seen_at) == (3, any_services.now())


def test_an_alarm_after_ten_minutes_that_ends_by_itself(
    any_services: Services, any_actor: Actor, clock: Clock
) -> None:
    say(any_services, any_actor, unread(any_services), unread(any_services, "probe-2", partly=True))
    not_understood.review(any_services)
    assert standing(any_services, any_actor) == [], "somebody may just be setting it up"
    for _ in range(2):
        clock.forward(minutes=9)
        say(any_services, any_actor, unread(any_services), unread(any_services, "probe-2", partly=True))
    not_understood.review(any_services)
    not_understood.review(any_services)
    assert standing(any_services, any_actor) == ["probe-1"]
    clock.forward(minutes=11)
    not_understood.review(any_services)
    assert standing(any_services, any_actor) == []


def test_a_gateway_that_makes_up_names_fills_nothing(services: Services, actor: Actor, clock: Clock) -> None:
    for number in range(2):
        clock.forward(seconds=2)
        say(services, actor, *(unread(services, f"probe-{number}-{n}") for n in range(MOST_KEPT)))
    kept = not_understood.listed(services, actor, PageRequest(MOST_KEPT)).items
    assert len(kept) == MOST_KEPT
    assert {one.source.split("-")[1] for one in kept} == {"1"}
