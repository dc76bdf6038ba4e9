"""Readings over HTTP: stored before the answer, fetched in order, lost by nobody's death, open to nothing else."""

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import cbor2
import pytest
import requests
from flask import Flask
from flask.testing import FlaskClient

from ingest.runtime.posted_messages import PostedMessages
from ingest.runtime.worker import Worker
from ingest.wire.http import Service
from service.operations import messages, places, tokens
from service.operations.support.context import Actor, Services
from tests.support.clock import Clock
from tests.support.fake_service import hookup
from tests.support.feeding import START, Made, one_device
from tests.support.served import served
from tests.support.workers import made_worker

DEVICE = "urn:dev:mac:0024befffe804ff1"
SENML = "application/senml+json"


@pytest.fixture
def url(app: Flask) -> Iterator[str]:
    with served(app) as where:
        yield where


@pytest.fixture
def side(url: str, services: Services, actor: Actor) -> Service:
    return Service(url, tokens.create(services, actor, name="worker", scope="worker").secret)


@pytest.fixture
def gateway(app: Flask, services: Services, actor: Actor) -> Callable[..., FlaskClient]:
    def make(place: str | None = None, device: str | None = None) -> FlaskClient:
        bound = None if place is None else [place]
        secret = tokens.create(
            services, actor, name="gateway", scope="gateway", places=bound, device=device
        ).secret
        client = app.test_client()
        client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
        return client

    return make


def post(client: FlaskClient, payload: bytes, kind: str = SENML, **query: str) -> Any:
    return client.post("/api/v1/readings", data=payload, content_type=kind, query_string=query)


def taking(worker: Worker, side: Service) -> PostedMessages:
    posted = PostedMessages(side, (), worker.listener.packs, lambda: 0.0, 0.0)
    worker.stored = posted.kept
    return posted


def work_off(worker: Worker, posted: PostedMessages) -> None:
    posted.round()
    while worker.turn():
        posted.round()


def pairs_of(worker: Worker) -> list[str]:
    return [body for (body,) in worker.journal.db.execute("SELECT body FROM outbox ORDER BY made_s, key")]


@pytest.fixture(scope="module")
def made() -> list[Made]:
    return one_device(DEVICE, seed=4)


def test_what_was_posted_settles_as_if_it_had_been_published(
    tmp_path: Path, gateway: Callable[..., FlaskClient], side: Service, clock: Clock, made: list[Made]
) -> None:
    by_mqtt = made_worker(tmp_path, [hookup(7, DEVICE)])
    by_mqtt.listener.deliver(made)
    while by_mqtt.turn():
        pass
    (tmp_path / "http").mkdir()
    by_http = made_worker(tmp_path / "http", [hookup(7, DEVICE)])
    sender = gateway(place="shop", device=DEVICE)
    for one in made:
        clock.at = datetime.fromtimestamp(one.stamp_s + 0.3, UTC)
        assert post(sender, one.payload).status_code == 202
    posted = taking(by_http, side)
    work_off(by_http, posted)
    assert pairs_of(by_http) == pairs_of(by_mqtt) != []
    posted.round()
    assert side.messages((), 100) == []


def test_nothing_is_lost_when_the_worker_dies_before_or_after_it_has_stored_them(
    tmp_path: Path, technician: FlaskClient, side: Service
) -> None:
    for number in range(3):
        pack = [{"n": "gauge-pressure", "u": "Pa", "v": 9e5 + number, "t": START + 10 * number}]
        assert post(technician, json.dumps(pack).encode(), place="shop", device="g").status_code == 202
    first = made_worker(tmp_path, [], now_s=START + 60)
    posted = taking(first, side)
    posted.round()
    first.journal.close()
    assert len(side.messages((), 100)) == 3, "fetched is not stored"
    second = made_worker(tmp_path, now_s=START + 60)
    posted = taking(second, side)
    posted.round()
    second.turn()
    assert len(list(second.journal.packs())) == 3
    assert len(side.messages((), 100)) == 3, "stored, and died before it could say so"
    second.journal.close()
    third = made_worker(tmp_path, now_s=START + 60)
    work_off(third, taking(third, side))
    assert third.pipeline.devices["g"].newest["gauge-pressure"].value == 9e5 + 2
    assert side.messages((), 100) == []


def test_a_worker_without_its_service_keeps_what_it_has_to_say(
    tmp_path: Path, technician: FlaskClient, side: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    post(technician, b'[{"n":"mass","u":"kg","v":20}]', place="shop", device="s")
    worker = made_worker(tmp_path, [])
    posted = taking(worker, side)
    posted.round()
    worker.turn()
    with monkeypatch.context() as away:
        away.setattr(side, "base", "http://127.0.0.1:1/api/v1")
        with pytest.raises(requests.RequestException):
            posted.round()
    posted.round()
    assert side.messages((), 100) == []


def test_cbor_and_a_mapping_are_read_and_what_cannot_be_is_shown(
    tmp_path: Path, client_as: Callable[..., FlaskClient], gateway: Callable[..., FlaskClient], side: Service
) -> None:
    value = [{"quantity": "gauge-pressure", "path": "psi", "unit": "[psi]"}]
    mapping = {"topic": "vans/{place}/{device}/state", "value": value}
    client_as("supervisor").put("/api/v1/mappings/vans", json={"mapping": mapping})
    sender = gateway(place="shop")
    cbor = cbor2.dumps([{0: "gauge-3:mass", 1: "kg", 2: 20.5}])
    assert post(sender, cbor, "application/senml+cbor").status_code == 202
    assert (
        post(sender, b'{"psi": 100}', "application/json", mapping="vans", device="gauge-4").status_code == 202
    )
    assert post(sender, b"{}", SENML).status_code == 202
    worker = made_worker(tmp_path, [])
    fetched = side.mappings(None)
    assert fetched is not None
    worker.new_mappings.put(fetched)
    work_off(worker, taking(worker, side))
    assert worker.pipeline.devices["gauge-3"].newest["mass"].value == 20.5
    assert worker.pipeline.devices["gauge-4"].newest["gauge-pressure"].value == pytest.approx(689475.7293)
    assert [one["source"] for one in worker.pipeline.misunderstood.take(9)] == ["gateway"]


def test_a_gateways_token_posts_readings_and_does_nothing_else(
    app: Flask, gateway: Callable[..., FlaskClient]
) -> None:
    client = gateway()
    document = app.test_client().get("/api/v1/openapi.json").get_json()
    asked = {
        (method, path): operation["x-scopes"]
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
        if isinstance(operation, dict) and "x-scopes" in operation
    }
    assert len(asked) > 50
    assert [call for call, scopes in asked.items() if "gateway" in scopes] == [("post", "/api/v1/readings")]
    assert client.get("/api/v1/cylinders").status_code == 403


@pytest.mark.parametrize(
    ("bound", "query", "status"),
    [
        ({}, {"place": "shop", "device": "g"}, 202),
        ({}, {"device": "g"}, 422),
        ({}, {"place": "moon"}, 404),
        ({"place": "shop"}, {}, 202),
        ({"place": "shop"}, {"place": "van"}, 404),
        ({"place": "shop", "device": "g"}, {"device": "h"}, 403),
        ({"place": "shop"}, {"mapping": "none-such"}, 404),
    ],
)
def test_a_token_of_one_place_or_device_speaks_for_no_other(
    services: Services,
    actor: Actor,
    gateway: Callable[..., FlaskClient],
    bound: dict[str, str],
    query: dict[str, str],
    status: int,
) -> None:
    places.create(services, actor, name="van", kind="van", elevation_m=None)
    assert post(gateway(**bound), b"[]", **query).status_code == status


def test_other_bodies_are_refused_and_so_is_what_would_never_be_fetched(
    technician: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert post(technician, b"<a/>", "application/xml", place="shop").status_code == 415
    nameless = post(technician, b"{}", "application/json", place="shop")
    assert (nameless.status_code, nameless.get_json()["errors"][0]["field"]) == (422, "mapping")
    assert post(technician, b"", place="shop").status_code == 422
    monkeypatch.setattr(messages, "MOST_WAITING", 1)
    assert post(technician, b"[]", place="shop").status_code == 202
    full = post(technician, b"[]", place="shop")
    assert (full.status_code, full.headers["Retry-After"]) == (503, "60")


def test_a_worker_of_one_place_fetches_its_own(
    services: Services, actor: Actor, technician: FlaskClient, side: Service
) -> None:
    places.create(services, actor, name="van", kind="van", elevation_m=None)
    for place in ("shop", "van"):
        post(technician, b"[]", place=place)
    assert [one["place"] for one in side.messages(("van",), 9)] == ["van"]
    assert [one["place"] for one in side.messages((), 9)] == ["shop", "van"]
