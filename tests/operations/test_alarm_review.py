"""Alarms follow live values, weights, verdicts and time, in the transaction of whatever changed."""

from datetime import timedelta

import pytest

from service.operations import alarms, cylinders, hookups, live, pairs
from service.operations.hookups import NewHookup
from service.operations.live import Snapshot
from service.operations.pairs import NewPair
from service.operations.support import attention
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.support.clock import Clock
from tests.support.fleet import delivered, put_in
from tests.support.judge import ScriptedJudge
from tests.support.queries import recorded

NEVER_HEARD = {"stale": "notice"}
"""The devices of these cylinders have said nothing since they were hooked up."""


def standing(services: Services, actor: Actor) -> dict[str, str]:
    found = alarms.listed(services, actor, PageRequest(), open_only=True).items
    return {alarm.code: alarm.severity for alarm in found}


def hook_up(services: Services, actor: Actor, serial: str = "HM-1") -> int:
    return hookups.attach(services, actor, NewHookup(serial, f"gauge-{serial}", f"clamp-{serial}")).id


def say(services: Services, actor: Actor, clock: Clock, hookup_id: int, **document: object) -> None:
    temp_c = document.get("temperature_c")
    snapshot = Snapshot(
        hookup_id=hookup_id, at=clock(), settling_state="settled",
        temp_k=None if temp_c is None else temp_c + 273.15, pressure=None, mass_kg=None, probe_lag_s=None,
        document={"reasons": [], **document},
    )  # fmt: skip
    live.put(services, actor, [snapshot], [])


@pytest.fixture
def hookup(services: Services, actor: Actor) -> int:
    delivered(services, actor)
    put_in(services, actor, 6.0)
    return hook_up(services, actor)


def test_heat_is_raised_made_critical_and_cleared_with_hysteresis(services, actor, clock, hookup):
    seen = []
    for temp_c in (30.0, 48.5, 46.0, 52.5, 46.0, 44.0):
        clock.forward(seconds=30)
        say(services, actor, clock, hookup, temperature_c=temp_c, gauge_pressure_kpa=1310.0)
        seen.append(standing(services, actor).get("hot"))
    assert seen == [None, "warning", "warning", "critical", "critical", None]


def test_a_cylinder_that_boils_off_is_noticed_while_it_does(services, actor, clock, hookup):
    def after(seconds, state, temp_k, gauge_pa):
        clock.forward(seconds=seconds)
        snapshot = Snapshot(
            hookup_id=hookup, at=clock(), settling_state=state, temp_k=temp_k,
            pressure=PressureReading(gauge_pa=gauge_pa), mass_kg=None, probe_lag_s=20.0, document={"reasons": []},
        )  # fmt: skip
        live.put(services, actor, [snapshot], [])
        return standing(services, actor).get("boiling-off")

    assert {after(15, "settled", 295.15, 850_000.0) for _ in range(60)} == {None}
    # 2.4 K a minute, with the pressure ahead of it.
    told = [after(2, "cooling", 295.15 - 0.08 * n, 850_000.0 - 4_000.0 * n) for n in range(1, 76)]
    assert told[0] is None and told[-1] == "critical"
    assert {after(15, "settled", 289.0, 550_000.0) for _ in range(4)} == {"critical"}, (
        "until evidence ends it"
    )


def test_a_worse_alarm_has_to_be_acknowledged_anew(services, actor, clock, hookup):
    say(services, actor, clock, hookup, temperature_c=49.0)
    first = alarms.listed(services, actor, PageRequest(), open_only=True).items[0]
    assert alarms.acknowledge(services, actor, first.id).acknowledged_at is not None
    clock.forward(seconds=30)
    say(services, actor, clock, hookup, temperature_c=53.0)
    again = alarms.listed(services, actor, PageRequest(), open_only=True).items
    assert [(alarm.id, alarm.severity, alarm.acknowledged_at) for alarm in again] == [
        (first.id, "critical", None)
    ]


def test_what_devices_say(services, actor, clock, hookup):
    say(services, actor, clock, hookup, battery_percent=9.0, reasons=["devices-disagree"])
    assert set(standing(services, actor)) == {"battery-low", "devices-disagree"}
    clock.forward(seconds=30)
    hookups.detach(services, actor, hookup)
    assert standing(services, actor) == {}


def test_silence_and_dates_become_alarms_by_time_alone(services, actor, clock, hookup):
    say(services, actor, clock, hookup, temperature_c=24.0)
    clock.forward(minutes=20)
    attention.sweep(services)
    assert set(standing(services, actor)) == {"stale"}
    attention.sweep(services)
    assert len(alarms.listed(services, actor, PageRequest(), open_only=False).items) == 1
    clock.forward(days=4 * 365)
    attention.sweep(services)
    assert "overdue" in standing(services, actor)


def test_liquid_full_soon_counts_the_kelvins_left(services, actor, clock):
    cylinders.register(
        services, actor, "HM-9",
        {"place": "shop", "marks": "DOT-4BA400", "water_capacity_kg": 10.0, "tare_kg": 10.0,
         "gross_mass_kg": 21.0, "claimed_designation": "R-22"},
    )  # fmt: skip
    hookup = hook_up(services, actor, "HM-9")
    say(services, actor, clock, hookup, temperature_c=44.5, battery_percent=10.0)
    found = alarms.listed(services, actor, PageRequest(), open_only=True).items
    texts = {alarm.code: alarm.text for alarm in found}
    assert {"overfull", "liquid-full-soon", "battery-low"} <= set(texts)
    assert "of warming" in texts["liquid-full-soon"] and "°F" in texts["liquid-full-soon"]
    assert "lb" in texts["overfull"] and "kg" in texts["overfull"]
    assert next(one for one in found if one.code == "overfull").details["net_mass_kg"] == pytest.approx(11.0)


def test_a_weighing_typed_in_is_reviewed_at_once(services, actor, clock, hookup):
    cylinders.correct(services, actor, "HM-1", {"gross_mass_kg": 40.0}, lambda _: True)
    assert standing(services, actor)["overfull"] == "critical"
    clock.forward(minutes=1)
    cylinders.correct(services, actor, "HM-1", {"gross_mass_kg": 18.4}, lambda _: True)
    assert standing(services, actor) == {}


def test_devices_that_were_never_heard_are_silent_since_they_were_hooked_up(services, actor, clock, hookup):
    for minutes, expected in ((14, {}), (2, NEVER_HEARD)):
        clock.forward(minutes=minutes)
        attention.sweep(services)
        assert standing(services, actor) == expected
    say(services, actor, clock, hookup, temperature_c=24.0)
    attention.sweep(services)
    assert standing(services, actor) == {}


def test_mass_gone_without_a_transfer(services, actor, clock, hookup):
    clock.forward(hours=1)
    reading = PressureReading(absolute_pa=1.04e6)
    pairs.record(services, actor, NewPair(297.95, reading, serial="HM-1", mass_kg=18.0))
    assert standing(services, actor) == {"leak": "critical", **NEVER_HEARD}
    clock.forward(hours=1)
    pairs.record(services, actor, NewPair(297.95, reading, serial="HM-1", mass_kg=18.38))
    assert standing(services, actor) == NEVER_HEARD


def test_pressure_that_falls_at_steady_temperature_with_the_liquid_gone(
    services, actor, clock, judge: ScriptedJudge, hookup
):
    judge.contents = "vapour-only"
    for pressure_pa in (700e3, 660e3):
        clock.forward(hours=1)
        reading = PressureReading(absolute_pa=pressure_pa)
        pairs.record(services, actor, NewPair(297.95, reading, serial="HM-1"))
    assert standing(services, actor) == {"leak": "critical", **NEVER_HEARD}


def test_an_ordinary_snapshot_waits_for_its_turn_and_has_it_within_sixteen_seconds(
    services, actor, clock, hookup
):
    cylinders_turns = 0
    put_in_before = standing(services, actor)
    for _ in range(8):
        clock.forward(seconds=2)
        with recorded(services.database.engine) as statements:
            say(services, actor, clock, hookup, temperature_c=24.0, gauge_pressure_kpa=900.0)
        cylinders_turns += any("FROM holds" in statement for statement in statements)
    assert cylinders_turns == 1 and put_in_before == {}


def test_the_number_of_statements_does_not_grow_with_the_cylinders(services, actor, clock):
    counts = []
    for start, stop in ((0, 3), (3, 30)):
        for number in range(start, stop):
            delivered(services, actor, f"N-{number}")
            put_in(services, actor, 2.0, serial=f"N-{number}")
            hook_up(services, actor, f"N-{number}")
        with recorded(services.database.engine) as statements:
            attention.sweep(services)
        counts.append(len(statements))
    assert counts[0] == counts[1]


def test_two_reviews_at_once_raise_one_alarm(any_services, any_actor, clock):
    import threading

    delivered(any_services, any_actor, requalification_stamp="1-20")
    clock.forward(days=1)
    threads = [threading.Thread(target=attention.sweep, args=(any_services,)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    found = alarms.listed(any_services, any_actor, PageRequest(), open_only=False).items
    assert [alarm.code for alarm in found] == ["overdue"]
    assert found[0].raised_at <= clock() + timedelta(seconds=1)


def test_the_api_gives_the_figures_beside_the_words(services, actor, clock, hookup, client_as):
    say(services, actor, clock, hookup, temperature_c=49.0)
    items = client_as("reader").get("/api/v1/alarms").get_json()["items"]
    hot = next(one for one in items if one["code"] == "hot")
    assert hot["details"] == {"temp_k": pytest.approx(322.15)} and "°C" in hot["text"] and "°F" in hot["text"]
