"""Tokens of the scope ``events``, and tokens that are bound to places: every route is walked, so none is forgotten."""

import json
from collections.abc import Callable
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from service.operations import alarms, cylinders, hookups, places, tokens
from service.operations.hookups import NewHookup
from service.operations.support import events
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Invalid, NotFound
from service.store.paging import PageRequest
from service.store.tables.base import metadata
from tests.support.http import api_operations, assert_problem, documented_path, examples, path_of
from tests.support.judge import ScriptedJudge
from tests.support.story import NAMES, play

Clients = Callable[..., FlaskClient]
ELSEWHERE, OURS = "elsewhere", "ZZ-9"
UNMOVED = {"tokens", "idempotency_keys"}
"""Tables that say who asked, and what was answered."""
EVENT_ROUTES = {
    ("GET", "/api/v1/events"),
    ("GET", "/api/v1/event-log"),
    ("GET", "/api/v1/webhooks"),
    ("GET", "/api/v1/webhooks/<int(min=1, max=9223372036854775807):webhook_id>"),
    ("GET", "/api/v1/webhooks/<int(min=1, max=9223372036854775807):webhook_id>/attempts"),
}


def client_of(app: Flask, services: Services, actor: Actor, scope: str, **more: Any) -> FlaskClient:
    client = app.test_client()
    secret = tokens.create(services, actor, name=f"a {scope}", scope=scope, **more).secret
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    return client


@pytest.fixture
def world(app: Flask, services: Services, actor: Actor, client_as: Clients, judge: ScriptedJudge) -> None:
    """A whole story that stands at other places, and one cylinder elsewhere."""
    cylinders.register(services, actor, "HM-0002", {"place": "shop"})
    judge.contamination = "mixed"
    body = {"cylinder": "HM-0002", "temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}
    assert client_as("technician").post("/api/v1/equilibrium-pairs", json=body).status_code == 201
    judge.contamination = "none-detected"
    play(app, [client_as("administrator"), client_as("worker")])
    places.create(services, actor, name=ELSEWHERE, kind="site", elevation_m=0.0)
    cylinders.register(services, actor, OURS, {"place": ELSEWHERE})


@pytest.fixture
def bound(app: Flask, services: Services, actor: Actor, world: None) -> FlaskClient:
    return client_of(app, services, actor, "supervisor", places=[ELSEWHERE])


def stored(services: Services) -> dict[str, list[str]]:
    """Every row of every table but those of ``UNMOVED``."""
    with services.database.engine.connect() as connection:
        return {
            table.name: sorted(repr(tuple(row)) for row in connection.execute(sa.select(table)))
            for table in metadata.sorted_tables
            if table.name not in UNMOVED
        }


def tag_of(method: str) -> dict[str, str]:
    return {"If-Match": '"1"'} if method in {"PATCH", "PUT"} else {}


def test_a_bound_token_reaches_nothing_that_stands_elsewhere(
    app: Flask, services: Services, bound: FlaskClient
) -> None:
    documented, before = examples(app), stored(services)
    answered, leaks = 0, []
    for method, rule in api_operations(app):
        if rule.rule == "/api/v1/events":
            continue
        path = path_of(rule, **NAMES)
        answer = bound.open(
            path, method=method, headers=tag_of(method), **documented[method, documented_path(rule)]
        )
        assert answer.status_code in {200, 403, 404, 422}, (method, rule.rule, answer.get_data())
        answered += answer.status_code == 200
        told = answer.get_data(as_text=True)
        asked = path + json.dumps(documented[method, documented_path(rule)])
        names = ("HM-0001", "HM-0002", "HM-0003", "HM-0004", "gauge-17", "clamp-17", "van-2")
        leaks += [(method, rule.rule, name, told) for name in names if name in told and name not in asked]
    assert leaks == []
    assert stored(services) == before
    # It is no token that is refused everything: lists, the feed, refrigerants and verdicts answer.
    assert answered >= 10


def test_what_a_write_names_elsewhere_is_not_found(bound: FlaskClient, services: Services) -> None:
    before = stored(services)
    reading = {"temperature_c": 20, "absolute_pressure_kpa": 900}
    for path, body in (
        ("equilibrium-pairs", {"cylinder": "hm-0001", **reading}),
        ("equilibrium-pairs", {"hookup": 1, **reading}),
        ("hookups", {"cylinder": OURS, "pressure_device": "g", "place": "shop"}),
        ("hookups", {"cylinder": "HM-0001", "pressure_device": "g"}),
        ("transfers", {"cylinder": OURS, "direction": "out", "mass_kg": 1, "to_cylinder": "HM-0001"}),
        ("cylinders", {"serial": "NEW-1", "place": "shop"}),
        ("inspections", {"cylinder": "HM-0002", "passed": True}),
        ("holds", {"cylinder": "HM-0002", "reason": "x"}),
    ):
        assert_problem(bound.post(f"/api/v1/{path}", json=body), 404, "not-found")
    assert_problem(bound.post("/api/v1/cylinders", json={"serial": "NEW-1"}), 422, "validation")
    tag = {"If-Match": bound.get(f"/api/v1/cylinders/{OURS}").headers["ETag"]}
    for place in ("shop", None):
        answer = bound.patch(f"/api/v1/cylinders/{OURS}", json={"place": place}, headers=tag)
        assert_problem(answer, 404, "not-found")
    for query in ("holds", "transfers", "care", "labels.pdf"):
        assert_problem(bound.get(f"/api/v1/{query}"), 422, "validation")
    for query in (
        "holds?cylinder=HM-0002",
        "cylinders?place=shop",
        "alarms?place=shop",
        "labels.pdf?place=shop",
    ):
        assert_problem(bound.get(f"/api/v1/{query}"), 404, "not-found")
    assert stored(services) == before


def test_a_bound_token_works_where_it_is_bound(bound: FlaskClient) -> None:
    assert bound.post("/api/v1/cylinders", json={"serial": "ZZ-10", "place": ELSEWHERE}).status_code == 201
    body = {"cylinder": "ZZ-10", "pressure_device": "g-z", "temperature_device": "c-z", "place": ELSEWHERE}
    hookup = bound.post("/api/v1/hookups", json=body).get_json()["id"]
    reading = {"hookup": hookup, "temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}
    assert bound.post("/api/v1/equilibrium-pairs", json=reading).status_code == 201
    assert bound.get("/api/v1/cylinders/ZZ-10/verdict").status_code == 200
    assert bound.get(f"/api/v1/hookups/{hookup}").get_json()["cylinder"] == "ZZ-10"
    assert bound.post("/api/v1/holds", json={"cylinder": "ZZ-10", "reason": "x"}).status_code == 201
    listed = {
        path: bound.get(f"/api/v1/{path}").get_json()["items"] for path in ("cylinders", "hookups", "places")
    }
    assert {one["serial"] for one in listed["cylinders"]} == {OURS, "ZZ-10"}
    assert [one["cylinder"] for one in listed["hookups"]] == ["ZZ-10"]
    assert [one["name"] for one in listed["places"]] == [ELSEWHERE]
    subjects = {one["subject"] for one in bound.get("/api/v1/event-log?limit=200").get_json()["items"]}
    assert subjects == {f"cylinders/{OURS}", "cylinders/ZZ-10", f"places/{ELSEWHERE}"}
    assert bound.delete(f"/api/v1/hookups/{hookup}").status_code == 204


def test_a_device_in_use_elsewhere_does_not_tell_where(
    bound: FlaskClient, services: Services, actor: Actor
) -> None:
    hookups.attach(services, actor, NewHookup("HM-0002", "dev-p", "dev-t"))
    body = {"cylinder": OURS, "pressure_device": "dev-p", "temperature_device": "dev-t"}
    told = assert_problem(bound.post("/api/v1/hookups", json=body), 409, "conflict")
    assert "elsewhere" in told["detail"]
    assert "HM-" not in str(told)


def test_a_cylinder_that_moves_away_is_out_of_sight(
    bound: FlaskClient, services: Services, actor: Actor
) -> None:
    assert bound.get(f"/api/v1/cylinders/{OURS}").status_code == 200
    cylinders.correct(services, actor, OURS, {"place": "shop"}, lambda _: True)
    assert_problem(bound.get(f"/api/v1/cylinders/{OURS}"), 404, "not-found")
    assert bound.get("/api/v1/cylinders").get_json()["items"] == []


def test_the_feed_of_a_bound_actor_on_either_database(any_services: Services, any_actor: Actor) -> None:
    places.create(any_services, any_actor, name=ELSEWHERE, kind="site", elevation_m=0.0)
    for serial, place in (("A-1", "shop"), ("Z-1", ELSEWHERE)):
        cylinders.register(any_services, any_actor, serial, {"place": place})
        hookups.attach(any_services, any_actor, NewHookup(serial, f"g-{serial}", f"c-{serial}"))
    here = Actor(any_actor.organisation_id, "token:here", "reader", places=frozenset({ELSEWHERE}))
    told = events.follow(any_services, here, 0)
    assert {one.subject for one in told} == {"cylinders/Z-1", f"places/{ELSEWHERE}"}
    seen = alarms.listed(any_services, here, PageRequest(), open_only=True).items
    assert {one.cylinder for one in seen} <= {"Z-1"}


@pytest.mark.parametrize(
    ("scope", "bound_to"), [("worker", ["shop"]), ("administrator", ["shop"]), ("reader", [])]
)
def test_what_cannot_be_bound_is_refused(
    services: Services, actor: Actor, scope: str, bound_to: list[str]
) -> None:
    with pytest.raises(Invalid, match="places"):
        tokens.create(services, actor, name="x", scope=scope, places=bound_to)
    with pytest.raises(NotFound, match="moon"):
        tokens.create(services, actor, name="x", scope="reader", places=["moon"])


def test_a_token_says_what_it_is_bound_to(client_as: Clients) -> None:
    administrator = client_as("administrator")
    made = administrator.post("/api/v1/tokens", json={"name": "x", "scope": "reader", "places": ["shop"]})
    assert (made.status_code, made.get_json()["places"]) == (201, ["shop"])
    listed = administrator.get("/api/v1/tokens").get_json()["items"]
    assert [one["places"] for one in listed] == [None, ["shop"]]


def test_a_token_of_events_reads_events_and_nothing_else(
    app: Flask, services: Services, actor: Actor, world: None
) -> None:
    client = client_of(app, services, actor, "events")
    documented, before, admitted = examples(app), stored(services), set()
    for method, rule in api_operations(app):
        sent = documented[method, documented_path(rule)]
        answer = client.open(path_of(rule, **NAMES), method=method, headers=tag_of(method), **sent)
        if answer.status_code != 403:
            admitted.add((method, rule.rule))
            assert answer.status_code == 200, (method, rule.rule)
        answer.close()
    assert admitted == EVENT_ROUTES
    assert stored(services) == before


def test_a_token_of_events_hears_what_is_public(
    app: Flask, services: Services, actor: Actor, world: None
) -> None:
    client = client_of(app, services, actor, "events")
    heard = {one["type"] for one in client.get("/api/v1/event-log?limit=200").get_json()["items"]}
    assert {"heelmark.cylinder.changed", "heelmark.verdict.reached"} <= heard <= set(events.PUBLIC_TYPES)


@pytest.mark.parametrize(("scope", "more"), [("events", {}), ("reader", {"places": ["shop"]})])
def test_a_narrow_token_makes_nobody_an_insider(
    app: Flask, services: Services, actor: Actor, scope: str, more: dict[str, Any]
) -> None:
    outside = {"environ_overrides": {"REMOTE_ADDR": "203.0.113.9"}}
    assert client_of(app, services, actor, scope, **more).get("/metrics", **outside).status_code == 403
    assert client_of(app, services, actor, "reader").get("/metrics", **outside).status_code == 200
