"""Gauge and clamp that go together, as they were last used."""

from service.operations import cylinders, hookups
from service.operations.hookups import NewHookup
from service.operations.support.context import Actor, Services


def test_a_set_is_a_gauge_and_a_clamp_that_were_last_used_with_each_other_and_are_free(
    any_services: Services, any_actor: Actor
) -> None:
    def on(serial: str, gauge: str, clamp: str) -> int:
        return hookups.attach(any_services, any_actor, NewHookup(serial, gauge, clamp)).id

    def sets() -> list[tuple[str, str]]:
        return [
            (one.pressure_device, one.temperature_device) for one in hookups.sets(any_services, any_actor)
        ]

    for serial in ("SET-1", "SET-2"):
        cylinders.register(any_services, any_actor, serial, {"place": "shop"})
    first, second = on("SET-1", "g-1", "c-1"), on("SET-2", "g-2", "c-2")
    assert sets() == [], "both are in use"
    hookups.detach(any_services, any_actor, first)
    hookups.detach(any_services, any_actor, second)
    assert sets() == [("g-2", "c-2"), ("g-1", "c-1")]
    hookups.detach(any_services, any_actor, on("SET-1", "g-1", "c-2"))
    assert sets() == [("g-1", "c-2")], "a gauge and a clamp of different cylinders do not belong together"
    hookups.detach(any_services, any_actor, on("SET-1", "both", "both"))
    assert sets() == [("g-1", "c-2")]
