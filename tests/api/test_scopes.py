"""Who may do what, and whose things are seen."""

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.operations import cylinders, hookups, pairs
from service.operations.hookups import NewHookup
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from tests.conftest import make_owner
from tests.support.http import api_operations, assert_problem, documented_path, examples, path_of
from tests.support.story import NAMES, play

Clients = Callable[..., FlaskClient]


@pytest.mark.parametrize(
    ("scope", "method", "path", "allowed"),
    [
        ("reader", "GET", "/cylinders", True),
        ("reader", "POST", "/cylinders", False),
        ("worker", "GET", "/cylinders", False),
        ("worker", "GET", "/hookups?active=true", True),
        ("worker", "PUT", "/live", True),
        ("technician", "PUT", "/live", False),
        ("technician", "POST", "/cylinders", True),
        ("supervisor", "POST", "/cylinders", True),
        ("supervisor", "GET", "/tokens", False),
        ("administrator", "GET", "/tokens", True),
    ],
)
def test_each_scope_does_its_own(
    client_as: Clients, scope: str, method: str, path: str, allowed: bool
) -> None:
    answer = client_as(scope).open(f"/api/v1{path}", method=method, json={} if method != "GET" else None)
    if allowed:
        assert answer.status_code not in {401, 403}
    else:
        assert scope in assert_problem(answer, 403, "forbidden")["detail"]


@pytest.mark.parametrize("header", ["", "Bearer", "Bearer x", "Basic eDp5", "Bearer hm_\u00e9"])
def test_a_bad_authorization_is_401(app: Flask, client_as: Clients, header: str) -> None:
    answer = app.test_client().get(
        "/api/v1/cylinders", environ_overrides={"HTTP_AUTHORIZATION": header.encode().decode("latin-1")}
    )
    assert_problem(answer, 401)


def populate(services: Services, actor: Actor) -> None:
    cylinders.register(services, actor, "HM-1", {"place": "shop"})
    hookups.attach(services, actor, NewHookup("HM-1", "gauge-1", "clamp-1"))
    reading = PressureReading(absolute_pa=1_044_000.0)
    pairs.record(services, actor, NewPair(temp_k=297.95, pressure=reading, serial="HM-1"))


NOT_SCOPED = {
    "/api/v1/refrigerants/<designation>",
    "/api/v1/refrigerants/<designation>/saturation",
    # Named by a designation, which belongs to nobody; that the prices are the owner's own has a test in test_prices.
    "/api/v1/prices/<designation>",
    # Named by the owner, and made where there is none; that they are the owner's own has a test below.
    "/api/v1/reclaimers/<name>",
    "/api/v1/mappings/<name>",
}


def test_another_owner_finds_nothing_by_name_or_id(
    app: Flask, services: Services, actor: Actor, client_as: Clients
) -> None:
    play(app, [client_as("administrator"), client_as("worker")])
    stranger = make_owner(services, "other")
    clients = [client_as(scope, stranger) for scope in ("administrator", "worker")]
    documented = examples(app)
    walked = 0
    for method, rule in api_operations(app):
        if not rule.arguments or rule.rule in NOT_SCOPED:
            continue
        sent = documented[method, documented_path(rule)]
        path, tag = path_of(rule, **NAMES), {"If-Match": '"1"'}
        answers = [client.open(path, method=method, headers=tag, **sent) for client in clients]
        allowed = [answer for answer in answers if answer.status_code != 403]
        assert allowed, (method, rule.rule)
        for answer in allowed:
            assert answer.status_code == 404, (method, rule.rule, answer.get_data())
        walked += 1
    assert walked >= 12


def test_a_reclaimer_of_the_same_name_is_each_owners_own(
    services: Services, actor: Actor, client_as: Clients
) -> None:
    ours, theirs = client_as("administrator"), client_as("administrator", make_owner(services, "other"))
    for client, address in ((ours, "1 Example Road"), (theirs, "2 Sample Street")):
        assert client.put("/api/v1/reclaimers/Example Works", json={"address": address}).status_code == 200
    for client, address in ((ours, "1 Example Road"), (theirs, "2 Sample Street")):
        told = client.get("/api/v1/reclaimers").get_json()["items"]
        assert [row["address"] for row in told] == [address]


def test_a_mapping_of_the_same_name_is_each_owners_own(
    services: Services, actor: Actor, client_as: Clients
) -> None:
    ours, theirs = client_as("administrator"), client_as("administrator", make_owner(services, "other"))
    for client, unit in ((ours, "kg"), (theirs, "[lb_av]")):
        value = [{"quantity": "mass", "path": "m", "unit": unit}]
        mapping = {"topic": "x/{place}/{device}", "value": value}
        assert client.put("/api/v1/mappings/scale", json={"mapping": mapping}).get_json()["version"] == 1
    for client, unit in ((ours, "kg"), (theirs, "[lb_av]")):
        (told,) = client.get("/api/v1/mappings").get_json()["items"]
        assert told["mapping"]["value"][0]["unit"] == unit
    assert theirs.delete("/api/v1/mappings/scale").status_code == 204
    assert theirs.get("/api/v1/mappings/scale/versions").get_json()["items"][0]["mapping"] is None
    assert ours.get("/api/v1/mappings/scale").status_code == 200


@pytest.mark.parametrize("path", ["cylinders", "hookups", "devices", "alarms", "places", "event-log"])
def test_another_owners_lists_hold_nothing_of_ours(
    services: Services, actor: Actor, client_as: Clients, path: str
) -> None:
    populate(services, actor)
    stranger = make_owner(services, "other")
    told = client_as("reader", stranger).get(f"/api/v1/{path}").get_data(as_text=True)
    assert "HM-1" not in told
    assert "gauge-1" not in told


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("equilibrium-pairs", {"cylinder": "HM-1", "temperature_c": 20, "absolute_pressure_kpa": 900}),
        ("equilibrium-pairs", {"hookup": 1, "temperature_c": 20, "absolute_pressure_kpa": 900}),
        ("hookups", {"cylinder": "HM-1", "pressure_device": "g", "place": "shop"}),
    ],
)
def test_another_owners_things_cannot_be_named_in_a_body(
    services: Services, actor: Actor, client_as: Clients, path: str, body: dict[str, object]
) -> None:
    populate(services, actor)
    stranger = make_owner(services, "other")
    assert_problem(client_as("technician", stranger).post(f"/api/v1/{path}", json=body), 404, "not-found")
