"""A device is on one cylinder at a time."""

from datetime import timedelta

import pytest

from service.operations import cylinders, hookups, places
from service.operations.hookups import NewHookup
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, Invalid, NotFound
from service.store.paging import PageRequest


@pytest.fixture(autouse=True)
def _two_cylinders(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "A", {"place": "shop"})
    cylinders.register(services, actor, "B", {})


def test_devices_are_attached_and_detached(services: Services, actor: Actor) -> None:
    hookup = hookups.attach(services, actor, NewHookup("A", "gauge-1", "clamp-1"))
    assert (hookup.cylinder, hookup.place, hookup.valve, hookup.to_at) == ("A", "shop", "vapour", None)
    hookups.detach(services, actor, hookup.id)
    hookups.detach(services, actor, hookup.id)
    assert hookups.read(services, actor, hookup.id).to_at == services.now()
    active = hookups.listed(services, actor, PageRequest(), active=True, serial=None)
    past = hookups.listed(services, actor, PageRequest(), active=False, serial="A")
    assert (len(active.items), len(past.items)) == (0, 1)


@pytest.mark.parametrize(("gauge", "clamp"), [("gauge-1", "x"), ("x", "clamp-1"), ("clamp-1", "gauge-1")])
def test_a_device_in_use_is_refused_naming_where(
    services: Services, actor: Actor, gauge: str, clamp: str
) -> None:
    hookups.attach(services, actor, NewHookup("A", "gauge-1", "clamp-1"))
    with pytest.raises(Conflict, match="on cylinder A"):
        hookups.attach(services, actor, NewHookup("B", gauge, clamp, place="shop"))


def test_a_hookup_needs_a_place(services: Services, actor: Actor) -> None:
    with pytest.raises(Invalid, match="place"):
        hookups.attach(services, actor, NewHookup("B", "gauge-1", "clamp-1"))
    with pytest.raises(NotFound, match="place moon"):
        hookups.attach(services, actor, NewHookup("B", "gauge-1", "clamp-1", place="moon"))
    places.create(services, actor, name="van-1", kind="van", elevation_m=None)
    assert (
        hookups.attach(services, actor, NewHookup("B", "gauge-1", "clamp-1", place="van-1")).place == "van-1"
    )


def test_a_hookup_may_begin_in_the_past_but_not_ahead(services: Services, actor: Actor) -> None:
    past = services.now() - timedelta(hours=5)
    assert hookups.attach(services, actor, NewHookup("A", "g", "c", from_at=past)).from_at == past
    with pytest.raises(Invalid, match="a time that has come"):
        ahead = services.now() + timedelta(hours=1)
        hookups.attach(services, actor, NewHookup("A", "g2", "c2", from_at=ahead))
