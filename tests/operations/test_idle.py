"""A gauge that hangs open and thermometers on one shelf teach themselves, once, and nothing else does."""

from math import cos, pi

import pytest

from service.operations import cylinders, hookups, idle, instruments
from service.operations.hookups import NewHookup
from service.operations.support.context import Actor, Services
from service.store import devices
from service.store.instruments import StoredCheck
from service.store.paging import PageRequest
from tests.operations.test_instruments import CLAMP, GAUGE, read_one
from tests.support.clock import Clock

OFF_K = {"clamp-1": 1.2, "clamp-2": 0.1, "clamp-3": -0.1, "clamp-4": 0.0}


def night(
    services: Services,
    actor: Actor,
    clock: Clock,
    *,
    swing_k: float = 2.0,
    names: tuple[str, ...] = tuple(OFF_K),
    follows: float = 0.0,
) -> None:
    """Nine hours, heard every ten minutes, the air swinging by a cosine."""
    for step in range(55):
        clock.forward(minutes=10)
        air_k = 293.0 + swing_k * cos(pi * step / 54)
        shown = {name: {"wall-temperature": {"value": air_k + OFF_K[name]}} for name in names}
        shown[GAUGE] = {"gauge-pressure": {"value": 2500.0 + follows * (air_k - 293.0)}}
        rows = [
            {"name": name, "place": "shop", "last_seen_at": services.now(), "readings": readings}
            for name, readings in shown.items()
        ]
        with services.database.writing(actor.organisation_id) as work:
            devices.see(work, rows)
        idle.review(services)


def use(services: Services, actor: Actor, serial: str) -> None:
    """The devices go on a cylinder, which ends the night."""
    cylinders.register(services, actor, serial, {"place": "shop"})
    for number, clamp in enumerate(OFF_K):
        gauge = GAUGE if number == 0 else None
        hookups.attach(services, actor, NewHookup(serial, gauge or f"g-{number}", clamp))
    idle.review(services)


def noted(services: Services, actor: Actor, device: str) -> list[StoredCheck]:
    return list(instruments.checks(services, actor, device, PageRequest(20)).items)


def test_a_night_on_the_shelf_finds_the_zero_and_the_clamp_that_is_off(
    services: Services, actor: Actor, clock: Clock
) -> None:
    read_one(services, actor, 1)
    night(services, actor, clock)
    assert noted(services, actor, GAUGE) == [], "the night is not over"
    use(services, actor, "HM-9")
    (zero,) = noted(services, actor, GAUGE)
    assert (zero.method, zero.error) == ("open-air-idle", pytest.approx(2500.0))
    (shelf,) = noted(services, actor, CLAMP)
    assert (shelf.method, shelf.error) == ("shelf", pytest.approx(1.15))
    assert shelf.due_at is None, "it puts off no check by hand"
    (one,) = instruments.read(services, actor, CLAMP).sets
    # The one labelled cylinder said that the set is right; one night on a shelf weighs as much as the class does.
    assert one.belief.moments[0][0] > 0.15
    assert one.belief.moments[0][1] == pytest.approx(2500.0, rel=0.1)


def test_gas_in_a_hose_a_short_rest_and_two_thermometers_teach_nothing(
    services: Services, actor: Actor, clock: Clock
) -> None:
    read_one(services, actor, 1)
    night(services, actor, clock, follows=340.0, names=("clamp-1", "clamp-2"))
    use(services, actor, "HM-9")
    assert noted(services, actor, GAUGE) == noted(services, actor, CLAMP) == []


def test_air_that_never_changes_does_not_show_that_a_gauge_is_open(
    services: Services, actor: Actor, clock: Clock
) -> None:
    read_one(services, actor, 1)
    night(services, actor, clock, swing_k=0.1)
    use(services, actor, "HM-9")
    assert noted(services, actor, GAUGE) == []


def test_a_second_night_in_a_week_says_the_same_again(services: Services, actor: Actor, clock: Clock) -> None:
    read_one(services, actor, 1)
    for _ in range(2):
        night(services, actor, clock)
        clock.forward(hours=1)
        idle.review(services)
    assert len(noted(services, actor, GAUGE)) == 1
    clock.forward(days=8)
    night(services, actor, clock)
    clock.forward(hours=1)
    idle.review(services)
    assert len(noted(services, actor, GAUGE)) == 2
