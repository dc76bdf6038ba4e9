"""`heelmark watch`: what an installation does by itself, without any webhook, and what its heartbeat stands for."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import yaml

from service.commands import watch
from service.operations import alarms, health, retention
from service.operations.support import attention
from service.operations.support.context import Actor, Services
from service.store.paging import PageRequest
from tests.support.clock import Clock
from tests.support.fleet import delivered

YEARS = 6 * 365
"""Days after which a cylinder stamped in 2024 is overdue (49 CFR 180.209: five years) [d]."""
DEPLOY = Path(__file__).parents[2] / "deploy"


def standing(services: Services, actor: Actor) -> set[str]:
    return {alarm.code for alarm in alarms.listed(services, actor, PageRequest(), open_only=True).items}


def run_until(services: Services, condition: Callable[[], bool], pulse: Path | None = None) -> bool:
    """Run the watch until something holds; answers whether it came to."""
    stopping = threading.Event()
    running = threading.Thread(target=watch.run, args=(services, stopping, pulse))
    running.start()
    try:
        deadline = time.monotonic() + 30.0
        while not condition() and time.monotonic() < deadline:
            time.sleep(0.02)
        return condition()
    finally:
        stopping.set()
        running.join(timeout=40.0)


def unhealthy(services: Services) -> set[str]:
    return {check.name for check in health.checks(services) if not check.healthy}


def test_its_first_round_raises_what_is_due_and_makes_the_installation_ready(
    any_services: Services, any_actor: Actor, clock: Clock, tmp_path: Path
) -> None:
    delivered(any_services, any_actor)
    clock.forward(days=YEARS)
    assert standing(any_services, any_actor) == set()
    assert unhealthy(any_services) >= {"watch", "retention"}
    pulse = tmp_path / "pulse"
    assert run_until(any_services, lambda: not unhealthy(any_services), pulse)
    assert "overdue" in standing(any_services, any_actor)
    assert pulse.exists()


def test_a_cylinder_that_cannot_be_judged_keeps_no_other_waiting_and_is_told_of(
    services: Services, actor: Actor, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    for serial in ("HM-1", "HM-2", "HM-3"):
        delivered(services, actor, serial)
    clock.forward(days=YEARS)
    genuine = attention.review

    def odd(services_, work, actor_, at, ids, **more):  # type: ignore[no-untyped-def]
        if 2 in ids:
            raise ZeroDivisionError
        return genuine(services_, work, actor_, at, ids, **more)

    monkeypatch.setattr(attention, "review", odd)
    with pytest.raises(attention.UnreviewedError, match=r"1 cylinders .*\[2\]"):
        attention.sweep(services)
    found = alarms.listed(services, actor, PageRequest(), open_only=True).items
    assert [(alarm.code, alarm.cylinder_id) for alarm in found] == [("overdue", 3), ("overdue", 1)]
    done = threading.Event()
    monkeypatch.setattr(watch._Nightly, "look", lambda _self: done.set())
    monkeypatch.setattr(watch.log, "exception", lambda *_args, **_more: done.set())
    assert run_until(services, done.is_set)
    assert "watch" in unhealthy(services), "a round that was not whole leaves no heartbeat"


def test_a_sweep_that_is_told_to_stop_ends_between_transactions(
    services: Services, actor: Actor, clock: Clock
) -> None:
    delivered(services, actor)
    clock.forward(days=YEARS)
    attention.sweep(services, lambda: False)
    assert standing(services, actor) == set()
    attention.sweep(services)
    assert standing(services, actor) == {"overdue"}


@pytest.mark.parametrize(
    ("hour", "age_h", "due"),
    [
        (3, 12.1, True),
        (3, 11.9, False),
        (12, 12.1, False),
        (12, 25.9, False),
        (12, 26.1, True),
        (12, -1.0, False),
        (12, -13.0, True),  # the machine's clock was ahead then
    ],
)
def test_retention_is_due_once_a_night_or_after_a_day(hour: int, age_h: float, due: bool) -> None:
    at = datetime(2026, 5, 4, hour, 30, tzinfo=UTC)
    assert retention.due(at, at - timedelta(hours=age_h)) is due


def test_retention_that_fails_is_left_alone_for_an_hour_and_hinders_no_round(
    services: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[int] = []

    def failing(_services: Services) -> None:
        tried.append(1)
        raise RuntimeError("no")

    monkeypatch.setattr(retention, "maintain", failing)
    monkeypatch.setattr(watch, "ROUND_EVERY_S", 0.0)
    monkeypatch.setattr(watch, "LOOK_EVERY_S", 0.01)
    rounds: list[int] = []
    beat = health.beat
    monkeypatch.setattr(health, "beat", lambda *args: (rounds.append(1), beat(*args)))
    assert run_until(services, lambda: len(rounds) >= 3 and bool(tried))
    assert (len(tried), unhealthy(services)) == (1, {"retention"})


def test_every_deployment_starts_it() -> None:
    compose = yaml.safe_load((DEPLOY / "compose" / "compose.yaml").read_text())["services"]["watch"]
    assert compose["command"][:2] == ["heelmark", "watch"] and "profiles" not in compose
    folder = DEPLOY / "kubernetes"
    resources = yaml.safe_load((folder / "kustomization.yaml").read_text())["resources"]
    assert "watch.yaml" in resources
    deployment = next(yaml.safe_load_all((folder / "watch.yaml").read_text()))
    (container,) = deployment["spec"]["template"]["spec"]["containers"]
    assert container["command"][:2] == ["heelmark", "watch"]
    systemd = DEPLOY / "systemd"
    assert "heelmark-watch.service" in (systemd / "heelmark.target").read_text()
    assert "ExecStart=/opt/heelmark/bin/heelmark watch\n" in (systemd / "heelmark-watch.service").read_text()
