"""Health goes red for what is really broken, and says what."""

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.api.http import examples
from service.operations import health, live, retention
from service.operations.support.context import Actor, Services
from tests.support.clock import Clock
from tests.support.live_batches import without_broker
from tests.support.watching import watched


@pytest.fixture(autouse=True)
def _look_each_time(monkeypatch: pytest.MonkeyPatch, services: Services) -> None:
    """The clock of the tests stands still; who asks twice in a second is otherwise told the same."""
    monkeypatch.setattr("service.api.resources.health.KEPT_S", -1.0)
    watched(services)


def checks(app: Flask, part: str | None = None) -> tuple[int, dict[str, bool]]:
    answer = app.test_client().get("/readyz", query_string={"part": part} if part else {})
    return answer.status_code, {c["check"]: c["healthy"] for c in answer.get_json()["checks"]}


def test_all_is_well_on_an_empty_installation(app: Flask) -> None:
    assert checks(app) == (
        200,
        dict.fromkeys(
            ("database", "disk", "workers", "broker", "watch", "retention", "deliverer", "outbox"), True
        ),
    )
    assert app.test_client().get("/healthz").status_code == 200


def attach(client_as: Callable[..., FlaskClient]) -> int:
    technician = client_as("technician")
    technician.post("/api/v1/cylinders", json=examples.CYLINDER)
    return technician.post("/api/v1/hookups", json=examples.HOOKUP).get_json()["id"]


def speak(client_as: Callable[..., FlaskClient], hookup: int, clock: Clock) -> None:
    said = {"place": "shop", "hookups": [{"hookup": hookup, **examples.LIVE_HOOKUP}], "devices": []}
    said["hookups"][0]["at"] = clock.at.isoformat()
    assert client_as("worker").put("/api/v1/live", json=said).status_code == 200


def test_a_silent_worker_turns_it_red_but_the_process_goes_on_serving(
    app: Flask, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    hookup = attach(client_as)
    speak(client_as, hookup, clock)
    clock.forward(seconds=59)
    assert checks(app)[0] == 200
    clock.forward(seconds=5)
    status, told = checks(app)
    assert (status, told["workers"]) == (503, False)
    assert checks(app, "serving")[0] == 200
    speak(client_as, hookup, clock)
    assert checks(app)[0] == 200


def test_a_worker_without_its_broker_turns_it_red_after_a_minute(
    app: Flask, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    worker = client_as("worker")

    def speak(lost_s: float | None) -> tuple[int, bool]:
        answer = worker.put("/api/v1/live", json=without_broker(lost_s, clock.at))
        assert (answer.status_code, answer.get_json()["refused"]) == (200, [])
        status, told = checks(app)
        assert told["workers"]
        return status, told["broker"]

    assert speak(60.0) == (200, True)
    assert speak(60.1) == (503, False)
    assert checks(app, "serving")[0] == 200
    clock.forward(seconds=30)
    assert checks(app)[0] == 503
    assert speak(None) == (200, True)
    assert speak(90.0) == (503, False)
    clock.forward(seconds=61)  # silent now: judged as a silent worker, not by what it said last
    assert checks(app)[1]["broker"] is True


def test_a_worker_that_never_spoke_gets_its_minute(
    app: Flask, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    attach(client_as)
    assert checks(app)[0] == 200
    clock.forward(seconds=61)
    assert checks(app)[1]["workers"] is False


def test_a_worker_with_nothing_new_to_say_stays_alive_by_saying_so(
    app: Flask, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    attach(client_as)
    clock.forward(seconds=70)
    assert (
        client_as("worker")
        .put("/api/v1/live", json={"place": "shop", "hookups": [], "devices": []})
        .status_code
        == 200
    )
    assert checks(app)[0] == 200


def test_one_dead_worker_among_living_ones_is_seen_and_after_a_day_taken_for_gone(
    app: Flask, services: Services, client_as: Callable[..., FlaskClient], clock: Clock, actor: Actor
) -> None:
    attach(client_as)
    other = Actor(actor.organisation_id, "token:worker of van-2", "worker")
    live.beat(services, other, "van-2")
    living = client_as("worker")
    for hours, healthy in ((0.02, False), (23.0, False), (1.5, True)):
        clock.forward(hours=hours)
        living.put("/api/v1/live", json={"place": "shop", "hookups": [], "devices": []})
        assert checks(app)[1]["workers"] is healthy, hours


def test_a_missing_deliverer_turns_it_red_once_a_webhook_is_there(
    app: Flask, services: Services, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    client_as("supervisor").post("/api/v1/webhooks", json=examples.WEBHOOK)
    assert checks(app)[1]["deliverer"] is False
    health.beat(services, health.DELIVERER)
    assert checks(app)[0] == 200
    clock.forward(seconds=61)
    assert checks(app)[1]["deliverer"] is False


def test_an_outbox_that_nobody_empties_turns_it_red(
    app: Flask, services: Services, client_as: Callable[..., FlaskClient], clock: Clock
) -> None:
    client_as("supervisor").post("/api/v1/webhooks", json={"url": "https://fleet.example/"})
    client_as("technician").post("/api/v1/cylinders", json=examples.CYLINDER)
    clock.forward(seconds=119)
    health.beat(services, health.DELIVERER)
    assert checks(app)[0] == 200
    clock.forward(seconds=2)
    assert checks(app)[1]["outbox"] is False


def test_without_the_watch_no_installation_is_ready(app: Flask, services: Services, clock: Clock) -> None:
    """Webhooks or none: what goes stale or overdue by time alone is noticed by nobody else."""
    clock.forward(seconds=180)
    assert checks(app)[0] == 200
    clock.forward(seconds=1)
    status, told = checks(app)
    assert (status, [name for name, healthy in told.items() if not healthy]) == (503, ["watch"])
    assert checks(app, "serving")[0] == 200
    health.beat(services, health.WATCH)
    assert checks(app)[0] == 200
    with services.database.unowned() as connection:
        connection.exec_driver_sql("DELETE FROM heartbeats")
    told = checks(app)[1]
    assert (told["watch"], told["retention"]) == (False, False)


def test_a_night_without_retention_turns_it_red(app: Flask, services: Services, clock: Clock) -> None:
    for hours, healthy in ((35.9, True), (0.2, False)):
        clock.forward(hours=hours)
        health.beat(services, health.WATCH)
        assert checks(app)[1]["retention"] is healthy
    retention.maintain(services)
    assert checks(app)[0] == 200


def test_without_its_schema_it_serves_nothing(app: Flask, services: Services) -> None:
    with services.database.unowned() as connection:
        connection.exec_driver_sql("DELETE FROM alembic_version")
    status, told = checks(app, "serving")
    assert (status, told) == (503, {"database": False, "disk": True})
    assert app.test_client().get("/healthz").status_code == 200
