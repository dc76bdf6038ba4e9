"""Alarms follow what is known now, and time alone."""

from datetime import timedelta

from service.operations import alarm_review, alarms, cylinders, hookups, live
from service.operations.context import Actor, Services
from service.operations.hookups import NewHookup
from service.operations.live import Snapshot
from service.store.paging import PageRequest
from tests.support.clock import Clock


def _snapshot(hookup_id: int, services: Services, *, hours_old: float) -> Snapshot:
    return Snapshot(
        hookup_id=hookup_id,
        at=services.now() - timedelta(hours=hours_old),
        settling_state="settling",
        temp_k=297.0,
        pressure=None,
        mass_kg=None,
        probe_lag_s=None,
        document={},
    )


def _standing(services: Services, actor: Actor) -> list[str]:
    return [alarm.code for alarm in alarms.listed(services, actor, PageRequest(), standing_only=True).items]


def test_a_backlog_is_not_silence_and_silence_is(services: Services, actor: Actor, clock: Clock) -> None:
    cylinders.register(services, actor, "A", {"place": "shop"})
    hookup_id = hookups.attach(services, actor, NewHookup("A", "gauge-1", "clamp-1")).id
    live.put(services, actor, [_snapshot(hookup_id, services, hours_old=4.0)], [])
    alarm_review.sweep(services)
    assert "stale" not in _standing(services, actor)
    clock.forward(seconds=4 * 3600)
    alarm_review.sweep(services)
    assert "stale" in _standing(services, actor)
    live.put(services, actor, [_snapshot(hookup_id, services, hours_old=0.0)], [])
    alarm_review.sweep(services)
    assert "stale" not in _standing(services, actor)
