"""Devices get names and are retired; what is retired is not hooked up, and still shows when it is heard."""

from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from service.operations import cylinders, devices, hookups, live
from service.operations.hookups import NewHookup
from service.operations.live import Sighting
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, NotFound
from service.store.devices import Device
from service.store.paging import PageRequest
from tests.support.clock import Clock

GAUGE = "urn:dev:mac:0024befffe804ff1"


def hear(services: Services, actor: Actor, *names: str) -> None:
    live.put(services, actor, [], [Sighting(name, "shop", services.now(), {}) for name in names])


def only(services: Services, actor: Actor) -> Device:
    (found,) = devices.listed(services, actor, PageRequest(), attached=None).items
    return found


def test_a_name_is_kept_whatever_is_heard_later(services: Services, actor: Actor, clock: Clock) -> None:
    hear(services, actor, GAUGE)
    assert devices.change(services, actor, GAUGE, {"called": "red gauge"}).called == "red gauge"
    clock.at += timedelta(minutes=1)
    hear(services, actor, GAUGE)
    assert only(services, actor).called == "red gauge"
    told = events.history(services, actor, f"devices/{GAUGE}")
    assert [one.data for one in told] == [{"called": "red gauge"}]
    devices.change(services, actor, GAUGE, {"called": "red gauge"})
    assert len(events.history(services, actor, f"devices/{GAUGE}")) == 1, "nothing has changed"
    with pytest.raises(NotFound, match="device gauge-9"):
        devices.change(services, actor, "gauge-9", {"called": "no such gauge"})


def test_a_retired_device_is_hooked_up_again_only_when_it_is_back_in_use(
    services: Services, actor: Actor
) -> None:
    cylinders.register(services, actor, "A", {"place": "shop"})
    hear(services, actor, GAUGE)
    attached = hookups.attach(services, actor, NewHookup("A", GAUGE, "clamp-1"))
    with pytest.raises(Conflict, match="is on cylinder A"):
        devices.change(services, actor, GAUGE, {"retired": True})
    hookups.detach(services, actor, attached.id)
    assert devices.change(services, actor, GAUGE, {"retired": True}).retired_at == services.now()
    for gauge, clamp in ((GAUGE, "clamp-1"), ("gauge-2", GAUGE)):
        with pytest.raises(Conflict, match=f"{GAUGE}: retired"):
            hookups.attach(services, actor, NewHookup("A", gauge, clamp))
    devices.change(services, actor, GAUGE, {"retired": False})
    assert hookups.attach(services, actor, NewHookup("A", GAUGE, "clamp-1")).pressure_device == GAUGE


def test_what_is_heard_after_it_was_retired_is_noticed(
    services: Services, actor: Actor, clock: Clock
) -> None:
    hear(services, actor, GAUGE)
    devices.change(services, actor, GAUGE, {"retired": True})
    clock.at += timedelta(minutes=2)
    hear(services, actor, GAUGE)
    assert not only(services, actor).still_heard, "what was under way when it was retired is no news"
    clock.at += timedelta(hours=1)
    hear(services, actor, GAUGE)
    assert only(services, actor).still_heard


def test_over_the_interface(services: Services, actor: Actor, technician: FlaskClient) -> None:
    hear(services, actor, GAUGE)
    answer = technician.patch(f"/api/v1/devices/{GAUGE}", json={"called": "red gauge", "retired": True})
    assert answer.status_code == 200
    told = answer.get_json()
    assert (told["called"], told["retired_at"] is not None, told["still_heard"]) == ("red gauge", True, False)
    assert technician.patch(f"/api/v1/devices/{GAUGE}", json={"called": ""}).status_code == 422
    assert technician.patch("/api/v1/devices/gauge-9", json={"retired": True}).status_code == 404
