"""A stream replays what was missed, then follows; it ends when told."""

import threading
import time

import pytest

from service.operations import cylinders, hookups, live, places
from service.operations.hookups import NewHookup
from service.operations.live import Snapshot
from service.operations.stream import Beat, Item, Tail, as_long_as, follow
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.store.events import Event
from service.store.live import Live


def collect(
    services: Services, actor: Actor, last_id: int, enough: int, heartbeat_s: float = 10.0
) -> list[Item]:
    tail = Tail(services)
    assert tail.join(actor, 1, 1)
    items: list[Item] = []
    ends = time.monotonic() + 10
    stream = follow(
        services,
        tail,
        actor,
        last_id,
        until=lambda: len(items) >= enough or time.monotonic() > ends,
        heartbeat_s=heartbeat_s,
    )
    for item in stream:
        items.append(item)
        if len(items) >= enough:
            break
    tail.leave(actor)
    return items


def test_what_was_missed_is_replayed_in_order(services: Services, actor: Actor) -> None:
    places.create(services, actor, name="van-1", kind="van", elevation_m=None)
    places.create(services, actor, name="van-2", kind="van", elevation_m=None)
    items = collect(services, actor, 1, 2)
    assert [item.subject for item in items if isinstance(item, Event)] == ["places/van-1", "places/van-2"]


def test_what_happens_meanwhile_is_followed(services: Services, actor: Actor) -> None:
    last = events.newest_id(services, actor)
    later = threading.Timer(
        0.3, places.create, (services, actor), {"name": "van-1", "kind": "van", "elevation_m": None}
    )
    later.start()
    (item,) = collect(services, actor, last, 1)
    later.join()
    assert isinstance(item, Event)
    assert item.subject == "places/van-1"


def test_live_values_come_between(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "A", {"place": "shop"})
    hookup = hookups.attach(services, actor, NewHookup("A", "g", "c"))
    last = events.newest_id(services, actor)

    def speak() -> None:
        services.now.forward(seconds=2)  # type: ignore[attr-defined]
        at = services.now()
        live.put(services, actor, [Snapshot(hookup.id, at, "settled", 297.0, None, None, None, {})], [])

    later = threading.Timer(0.3, speak)
    later.start()
    (item,) = collect(services, actor, last, 1)
    later.join()
    assert isinstance(item, Live)
    assert (item.cylinder, item.settling_state) == ("A", "settled")


def test_silence_is_broken_by_a_beat(services: Services, actor: Actor) -> None:
    last = events.newest_id(services, actor)
    (item,) = collect(services, actor, last, 1, heartbeat_s=0.2)
    assert isinstance(item, Beat)


def test_places_in_the_stream_are_counted(services: Services) -> None:
    tail, one, other = Tail(services), Actor(1, "person:rosa", "technician"), Actor(1, "token:wall", "reader")
    assert [tail.join(one, 3, 2), tail.join(one, 3, 2), tail.join(one, 3, 2)] == [True, True, False]
    assert [tail.join(other, 3, 2), tail.join(other, 3, 2)] == [True, False], "all places are taken"
    tail.leave(one)
    assert (tail.held_by(one), tail.listeners) == (1, 2)
    assert tail.join(other, 3, 2)
    for actor in (one, other, other):
        tail.leave(actor)
    assert tail.listeners == 0


def test_a_stream_is_over_when_its_time_is_or_its_listener_is_shut_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now, allowed, asked = [0.0], [True], []
    monkeypatch.setattr("service.operations.stream.time.monotonic", lambda: now[0])
    over = as_long_as(lambda: bool(asked.append(now[0]) or allowed[0]), 100.0)
    for now[0] in range(0, 40, 2):
        assert not over()
    assert len(asked) == 3, "not at every turn"
    allowed[0] = False
    now[0] = 51.0
    assert over()
    allowed[0] = True
    now[0] = 101.0
    assert over()


@pytest.mark.parametrize("last_id", [0, 10**12])
def test_another_owners_events_are_never_told(services: Services, actor: Actor, last_id: int) -> None:
    stranger = Actor(actor.organisation_id + 1, "token:x", "reader")
    assert events.follow(services, stranger, last_id) == []
