"""Live values are shown and thinned; they change nothing else."""

from datetime import timedelta

import pytest

from service.operations import cylinders, devices, hookups, live, places
from service.operations.hookups import NewHookup
from service.operations.live import Sighting, Snapshot
from service.operations.support import judgements
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.support.clock import Clock
from tests.support.live_batches import heard
from tests.support.queries import recorded


def snapshot(services: Services, hookup_id: int, **values: object) -> Snapshot:
    usual: dict[str, object] = {
        "hookup_id": hookup_id,
        "at": services.now(),
        "settling_state": "settling",
        "temp_k": 297.0,
        "pressure": PressureReading(gauge_pa=900_000.0),
        "mass_kg": None,
        "probe_lag_s": None,
        "document": {"gauge_pressure_kpa": 900.0},
    }
    return Snapshot(**{**usual, **values})  # type: ignore[arg-type]


@pytest.fixture
def hookup_id(any_services: Services, any_actor: Actor) -> int:
    cylinders.register(any_services, any_actor, "A", {"place": "shop"})
    return hookups.attach(any_services, any_actor, NewHookup("A", "gauge-1", "clamp-1")).id


def test_the_newest_snapshot_stands(
    any_services: Services, any_actor: Actor, hookup_id: int, clock: Clock
) -> None:
    old = snapshot(any_services, hookup_id, temp_k=290.0, at=clock() - timedelta(seconds=10))
    live.put(any_services, any_actor, [snapshot(any_services, hookup_id), old], [])
    live.put(any_services, any_actor, [old], [])
    found = live.of_hookup(any_services, any_actor, hookup_id)
    assert found is not None
    assert (found.temp_k, found.cylinder) == (297.0, "A")
    assert found.pressure_pa == pytest.approx(900_000.0 + 101_325.0)


def test_what_is_read_absolute_is_a_gauge_pressure_against_the_air_of_its_place(
    services: Services, actor: Actor
) -> None:
    places.create(services, actor, name="denver", kind="shop", elevation_m=1609.0)
    cylinders.register(services, actor, "B", {"place": "denver"})
    attached = hookups.attach(services, actor, NewHookup("B", "gauge-2", "clamp-2")).id
    said = snapshot(
        services,
        attached,
        pressure=PressureReading(absolute_pa=983_437.0),
        document={"absolute_pressure_kpa": 983.437},
    )
    live.put(services, actor, [said], [])
    judged = judgements.of_serial(services, actor, "B")
    assert judged.attached is not None
    # US Standard Atmosphere 1976: 83.44 kPa at 1609 m (one mile).
    assert judgements.gauge_pa(services, judged.attached) == pytest.approx(900_000.0, abs=100.0)


def test_hookups_that_are_not_active_are_left_out(
    any_services: Services, any_actor: Actor, hookup_id: int
) -> None:
    hookups.detach(any_services, any_actor, hookup_id)
    live.put(any_services, any_actor, [snapshot(any_services, hookup_id), snapshot(any_services, 999)], [])
    assert live.of_hookup(any_services, any_actor, hookup_id) is None


def test_the_trace_is_thinned(any_services: Services, any_actor: Actor, hookup_id: int, clock: Clock) -> None:
    for _ in range(60):
        clock.forward(seconds=2)
        live.put(any_services, any_actor, [snapshot(any_services, hookup_id)], [])
    points = live.trace(any_services, any_actor, hookup_id)
    assert 8 <= len(points) <= 9
    assert [point.at for point in points] == sorted(point.at for point in points)


def test_an_unattached_device_is_seen(any_services: Services, any_actor: Actor, hookup_id: int) -> None:
    said = heard("gauge-1", "gauge-9", at=any_services.now())["devices"]
    reading = said[1]["readings"]
    seen = [Sighting(one["device"], "shop", any_services.now(), one["readings"]) for one in said]
    live.put(any_services, any_actor, [], seen)
    live.put(any_services, any_actor, [], seen)
    unattached = devices.listed(any_services, any_actor, PageRequest(), attached=False).items
    attached = devices.listed(any_services, any_actor, PageRequest(), attached=True).items
    assert [device.name for device in unattached] == ["gauge-9"]
    assert [(device.name, device.hookup_id) for device in attached] == [("gauge-1", hookup_id)]
    assert unattached[0].readings == reading


def test_a_learned_lag_is_remembered_for_the_next_hookup(
    any_services: Services, any_actor: Actor, hookup_id: int
) -> None:
    live.put(any_services, any_actor, [], [Sighting("clamp-1", "shop", any_services.now(), {})])
    live.put(any_services, any_actor, [snapshot(any_services, hookup_id, probe_lag_s=80.0)], [])
    assert hookups.read(any_services, any_actor, hookup_id).probe_lag_s == 80.0
    hookups.detach(any_services, any_actor, hookup_id)
    again = hookups.attach(any_services, any_actor, NewHookup("A", "gauge-1", "clamp-1"))
    assert again.probe_lag_s == 80.0


def test_statements_do_not_grow_with_the_batch(services: Services, actor: Actor) -> None:
    ids = []
    for number in range(20):
        cylinders.register(services, actor, f"C{number}", {"place": "shop"})
        ids.append(hookups.attach(services, actor, NewHookup(f"C{number}", f"g{number}", f"c{number}")).id)
    counts = []
    # Of every eight hookups one has its alarms reviewed, which takes ten statements however many they are, and
    # two more for the courses of those whose wall may be falling.
    for some in (ids[:8], ids):
        with recorded(services.database.engine) as statements:
            seen = [Sighting(f"g{number}", "shop", services.now(), {}) for number in some]
            live.put(services, actor, [snapshot(services, number) for number in some], seen)
        counts.append(len(statements))
    assert counts[0] == counts[1] == 4 + 10 + 2
