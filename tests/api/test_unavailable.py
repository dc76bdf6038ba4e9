"""A disk without room, a database that is locked: told in words, nothing half kept, and over by itself."""

import json
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from service.app import create_app
from service.operations import people
from service.operations.people import NewPerson
from service.operations.support.context import Actor, Services
from service.settings import Settings
from service.store import engine as engines
from service.store.database import Database
from service.store.surroundings import Surroundings
from service.wiring import wire
from tests.support.http import assert_problem
from tests.support.watching import watched

Clients = Callable[..., FlaskClient]
PLACE = {"name": "van-9", "kind": "van"}


@contextmanager
def full(database: Database) -> Iterator[None]:
    """SQLite finds no room for another page, as on a full disk."""

    def no_more_pages(connection: sqlite3.Connection, *_: object) -> None:
        connection.execute("PRAGMA max_page_count = 1")

    database.engine.dispose()
    sa.event.listen(database.engine, "connect", no_more_pages)
    try:
        yield
    finally:
        sa.event.remove(database.engine, "connect", no_more_pages)
        database.engine.dispose()


@contextmanager
def locked(database: Database) -> Iterator[None]:
    """Somebody else, such as a tool at the file, holds the lock of the writer."""
    holder = sqlite3.connect(database.engine.url.database, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        holder.execute("ROLLBACK")
        holder.close()


@pytest.fixture(autouse=True)
def _no_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "BUSY_TIMEOUT_MS", 50)
    monkeypatch.setattr("service.store.database.TURN_WITHIN_S", 0.2)
    monkeypatch.setattr("service.api.resources.health.KEPT_S", -1.0)


@pytest.mark.parametrize("trouble", [full, locked])
def test_a_write_is_refused_with_when_to_come_back_and_reads_go_on(
    services: Services, client_as: Clients, trouble: Callable[[Database], object]
) -> None:
    client = client_as("supervisor")
    services.database.engine.dispose()
    with trouble(services.database):
        # The room that a full disk still has in pages that are half empty is soon used up.
        answers = [client.post("/api/v1/places", json={**PLACE, "name": f"v{n}" * 20}) for n in range(60)]
        refused = answers[-1]
        assert_problem(refused, 503, "unavailable")
        assert int(refused.headers["Retry-After"]) > 0
        assert client.get("/api/v1/places").status_code == 200, "also with a token that was never used before"
    kept = {item["name"] for item in client.get("/api/v1/places?limit=100").get_json()["items"]}
    accepted = [n for n, answer in enumerate(answers) if answer.status_code == 201]
    assert kept == {"shop", *(f"v{n}" * 20 for n in accepted)}
    assert client.post("/api/v1/places", json=PLACE).status_code == 201, "by itself"


def test_no_trace_of_the_cause_is_logged_for_each_refused_write(
    services: Services, client_as: Clients, capsys: pytest.CaptureFixture[str]
) -> None:
    client = client_as("supervisor")
    services.database.engine.dispose()
    with locked(services.database):
        client.post("/api/v1/places", json=PLACE)
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines() if line.startswith("{")]
    told = [line for line in lines if line["event"] == "database.unavailable"]
    assert len(told) >= 1
    assert "database is locked" in told[-1]["cause"]
    assert all("Traceback" not in json.dumps(line) for line in lines)


def test_the_board_says_so_and_keeps_its_frame(services: Services, app: Flask, actor: Actor) -> None:
    people.create(services, actor, NewPerson("rosa", "Rosa", "supervisor", "a long password"))
    browser = app.test_client()
    token = browser.get("/sign-in").text.partition('name="csrf" value="')[2].partition('"')[0]
    services.database.engine.dispose()
    with locked(services.database):
        form = {"csrf": token, "login": "rosa", "password": "a long password"}
        answer = browser.post("/sign-in", data=form)
    assert answer.status_code == 503
    assert int(answer.headers["Retry-After"]) > 0
    assert "nothing was saved" in answer.text and "Heelmark" in answer.text
    assert browser.post("/sign-in", data=form).status_code == 303


def test_readiness_says_that_nothing_can_be_written(services: Services, app: Flask) -> None:
    with locked(services.database):
        answer = app.test_client().get("/readyz")
    told = {check["check"]: check for check in answer.get_json()["checks"]}
    assert answer.status_code == 503
    assert told["disk"]["healthy"] is False
    assert "database is locked" in told["disk"]["text"]
    assert told["database"]["healthy"] is True


def test_readiness_says_that_there_is_no_room(
    settings: Settings, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Surroundings, "free_bytes", lambda _self: 12_000_000)
    client = create_app(settings, wire(settings, database=database)).test_client()
    told = {check["check"]: check["text"] for check in client.get("/readyz").get_json()["checks"]}
    assert told["disk"] == "only 12 MB are free, expected 50 MB or more"
    assert client.get("/readyz?part=serving").status_code == 200


@pytest.mark.parametrize("behind", [0, 1])
def test_strangers_hear_of_no_place_and_no_figure(
    settings: Settings, services: Services, client_as: Clients, behind: int
) -> None:
    from service.api.http import examples

    technician = client_as("technician")
    technician.post("/api/v1/cylinders", json=examples.CYLINDER)
    technician.post("/api/v1/hookups", json=examples.HOOKUP)
    services.now.forward(seconds=90)  # type: ignore[attr-defined]
    application = create_app(replace(settings, trusted_proxies=behind), services)
    stranger = {"environ_overrides": {"REMOTE_ADDR": "192.0.2.7"}}
    if behind:
        stranger = {"headers": {"X-Forwarded-For": "192.0.2.7"}}
    client = application.test_client()
    told = client.get("/readyz", **stranger)
    assert told.status_code == 503
    assert "silent" in told.text and "shop" not in told.text
    assert client.get("/metrics", **stranger).status_code == 403
    assert "shop" in client.get("/readyz").text
    assert "shop" in client.get("/metrics").text


def report(path: Path, at: float, *children: dict[str, object], failed: str = "") -> None:
    chores = [{"name": "backup", "failed": failed}]
    path.write_text(json.dumps({"at": at, "children": children, "chores": chores}).ljust(8191) + "\n")


RUNNING = {"name": "service", "state": "running", "deaths": 2, "told": ""}
WAITING = {"name": "worker", "state": "waiting", "deaths": 5, "told": "ended (exit code 1)"}


def test_the_processes_beside_the_service_are_named_in_readiness_and_on_the_board(
    settings: Settings, services: Services, actor: Actor, tmp_path: Path
) -> None:
    path = tmp_path / "stack.json"
    wired = replace(services, surroundings=Surroundings(tmp_path, path))
    people.create(wired, actor, NewPerson("rosa", "Rosa", "technician", "a long password"))
    client = create_app(settings, wired).test_client()
    token = client.get("/sign-in").text.partition('name="csrf" value="')[2].partition('"')[0]
    client.post("/sign-in", data={"csrf": token, "login": "rosa", "password": "a long password"})

    def told() -> dict[str, str]:
        return {c["check"]: c["text"] for c in client.get("/readyz").get_json()["checks"] if not c["healthy"]}

    report(path, time.time(), RUNNING)
    watched(services)
    assert told() == {}
    assert "not running" not in client.get("/rack").text
    report(path, time.time(), RUNNING, WAITING, failed="no room")
    assert told() == {
        "processes": "not running: worker: worker ended (exit code 1), 5 times",
        "nightly": "failed: backup: no room",
    }
    page = client.get("/rack").text
    assert (
        "The worker is not running: it ended (exit code 1), 5 times. It is started again by itself." in page
    )
    assert "The nightly backup failed: no room" in page
    report(path, time.time() - 120, RUNNING)
    assert told() == {"processes": "their supervisor is silent"}
    path.write_text("torn")
    assert told() == {"processes": "their supervisor is silent"}


def test_who_asks_again_at_once_is_told_the_same_at_no_cost(
    services: Services, app: Flask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.api.resources.health.KEPT_S", 60.0)
    watched(services)
    asked: list[int] = []
    monkeypatch.setattr(Surroundings, "free_bytes", lambda _self: asked.append(1) or 10**9)
    assert [app.test_client().get("/readyz").status_code for _ in range(5)] == [200] * 5
    assert len(asked) == 1
