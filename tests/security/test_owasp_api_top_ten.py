"""
The OWASP API Security Top 10, edition 2023: one test a risk, by its number and name (read: the project's list).

Each attacks the application as built; what a risk means elsewhere is tested there (targets of webhooks in
``tests/outbound``, sign-in with a provider beside this file, another owner's token on every route in ``tests/api``).
"""

import gzip
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import responses
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from service.api.http import examples
from service.app import create_app
from service.operations import people, tokens
from service.operations.people import NewPerson
from service.operations.support.context import Actor, Services
from service.outbound.addresses import AddressPolicy
from service.outbound.sender import Sender
from service.settings import Settings, SettingsError, load_settings
from service.store import tables
from tests.conftest import make_owner
from tests.support.clock import Clock
from tests.support.http import assert_problem

Clients = Callable[..., FlaskClient]
API = "/api/v1"


def bearer(secret: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {secret}"}


def test_api1_broken_object_level_authorization(client_as: Clients, services: Services) -> None:
    """By id or by name, another owner's things do not exist: 404, not 403, and nothing changes."""
    supervisor = client_as("supervisor")
    supervisor.post(f"{API}/cylinders", json=examples.CYLINDER)
    webhook = supervisor.post(f"{API}/webhooks", json=examples.WEBHOOK).get_json()["id"]
    credential = supervisor.post(f"{API}/device-credentials", json=examples.DEVICE_CREDENTIAL).get_json()[
        "id"
    ]
    thief = client_as("administrator", make_owner(services, "thief"))
    serial = examples.CYLINDER["serial"]
    for method, path in (
        ("GET", f"/cylinders/{serial}"),
        ("GET", f"/cylinders/{serial}/label.pdf"),
        ("GET", f"/webhooks/{webhook}"),
        ("DELETE", f"/webhooks/{webhook}"),
        ("POST", f"/webhooks/{webhook}/pings"),
        ("DELETE", f"/device-credentials/{credential}"),
    ):
        assert_problem(thief.open(f"{API}{path}", method=method), 404)
    assert thief.get(f"{API}/cylinders").get_json()["items"] == []
    assert thief.get(f"{API}/audit").get_json()["items"][0]["actor"] != "token:test supervisor"
    assert supervisor.get(f"{API}/webhooks/{webhook}").status_code == 200


def test_api2_broken_authentication(
    app: Flask, services: Services, settings: Settings, actor: Actor, clock: Clock
) -> None:
    """Unknown, expired, revoked and malformed tokens are alike useless; guessing is stopped; secrets are not kept."""
    made = tokens.create(services, actor, name="t", scope="reader", expires_at=clock() + timedelta(hours=1))
    client = app.test_client()

    def status(header: str) -> int:
        return client.get(f"{API}/places", headers={"Authorization": header}).status_code

    assert status(f"Bearer {made.secret}") == 200
    for header in ("", "Bearer", "Bearer ", "Basic eDp5", f"Token {made.secret}", f"Bearer {made.secret}x"):
        assert status(header) == 401, header
    assert client.get(f"{API}/places?token={made.secret}").status_code in (401, 422)
    clock.forward(hours=1)
    assert status(f"Bearer {made.secret}") == 401, "expired"
    other = tokens.create(services, actor, name="u", scope="reader")
    tokens.revoke(services, actor, other.token.id)
    assert status(f"Bearer {other.secret}") == 401, "revoked"
    with services.database.engine.connect() as connection:
        stored = str(connection.execute(sa.select(tables.tokens)).all())
    assert made.secret not in stored
    strict = create_app(replace(settings, failure_limit="5 per minute"), services).test_client()
    guesses = [strict.get(f"{API}/places", headers=bearer(f"hm_{n}")).status_code for n in range(8)]
    assert guesses == [401] * 5 + [429] * 3


def test_api3_broken_object_property_level_authorization(client_as: Clients, services: Services) -> None:
    """Nobody sets what is not theirs to set, and nobody is shown what is not theirs to see."""
    supervisor = client_as("supervisor")
    for stolen in ("organisation_id", "id", "epoch", "verdict_id", "version", "created_at", "standing"):
        body = {**examples.CYLINDER, "serial": f"HM-{stolen}", stolen: 1}
        problem = assert_problem(supervisor.post(f"{API}/cylinders", json=body), 422)
        assert problem["errors"][0]["field"] == stolen
    for path, body in (("tokens", examples.TOKEN), ("webhooks", examples.WEBHOOK)):
        with_more = {**body, "organisation_id": 99}
        assert_problem(client_as("administrator").post(f"{API}/{path}", json=with_more), 422)
    supervisor.post(f"{API}/webhooks", json=examples.WEBHOOK)
    shown = "".join(
        client_as("administrator").get(f"{API}/{path}").get_data(as_text=True)
        for path in ("tokens", "webhooks", "device-credentials", "audit")
    )
    for hidden in ("digest", "password_hash", "sealed", "whsec_", "organisation_id"):
        assert hidden not in shown
    log = client_as("reader").get(f"{API}/event-log").get_data(as_text=True)
    assert "heelmark.webhook.changed" not in log
    assert "heelmark.token.changed" not in log
    assert "heelmark.token.changed" in supervisor.get(f"{API}/event-log").get_data(as_text=True)


def test_api4_unrestricted_resource_consumption(
    client_as: Clients, services: Services, settings: Settings, actor: Actor
) -> None:
    """Size, depth, number and rate are bounded before anything is computed."""
    client = client_as("technician")
    pair = examples.VERDICT["pairs"][0]
    assert_problem(client.post(f"{API}/verdicts", json={"pairs": [pair] * 10_000}), 413)
    assert client.post(f"{API}/verdicts", json={"pairs": [pair] * 1000}).status_code == 422
    deep = b'{"pairs":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
    answer = client.post(f"{API}/verdicts", data=deep, content_type="application/json")
    assert 400 <= answer.status_code < 500, answer.status_code
    huge = b'{"pairs": [{"temperature_c": ' + b"9" * 100_000 + b"}]}"
    answer = client.post(f"{API}/verdicts", data=huge, content_type="application/json")
    assert 400 <= answer.status_code < 500, answer.status_code
    assert_problem(client.get(f"{API}/cylinders?limit=100000"), 422)
    bomb = gzip.compress(b"0" * 10_000_000)
    answer = client.post(
        f"{API}/verdicts", data=bomb, content_type="application/json", headers={"Content-Encoding": "gzip"}
    )
    assert 400 <= answer.status_code < 500
    limited = create_app(replace(settings, request_limit="3 per minute"), services).test_client()
    secret = tokens.create(services, actor, name="x", scope="reader").secret
    assert [limited.get(f"{API}/places", headers=bearer(secret)).status_code for _ in range(4)][-1] == 429


def test_api5_broken_function_level_authorization(client_as: Clients) -> None:
    """What each scope may not do; a path spelt otherwise or another method opens nothing."""
    forbidden = {
        "reader": [("POST", "cylinders"), ("POST", "transfers"), ("POST", "hookups"), ("PUT", "live")],
        "worker": [("GET", "cylinders"), ("POST", "cylinders"), ("GET", "tokens"), ("GET", "event-log")],
        "technician": [
            ("POST", "webhooks"),
            ("GET", "audit"),
            ("POST", "device-credentials"),
            ("GET", "tokens"),
        ],
        "supervisor": [("GET", "tokens"), ("POST", "tokens"), ("PUT", "live")],
    }
    for scope, calls in forbidden.items():
        client = client_as(scope)
        for method, path in calls:
            assert_problem(client.open(f"{API}/{path}", method=method, json={}), 403)
    technician = client_as("technician")
    for path in ("/TOKENS", "//tokens", "/tokens/", "/tokens;x", "/%74okens", "/tokens%00", "/../v1/tokens"):
        assert technician.get(f"{API}{path}").status_code in (308, 403, 404), path
    for header in ("X-HTTP-Method-Override", "X-Original-URL", "X-Rewrite-URL"):
        assert technician.get(f"{API}/tokens", headers={header: "/healthz"}).status_code == 403


def test_api6_unrestricted_access_to_sensitive_business_flows(client_as: Clients) -> None:
    """Mass moves once a key; a cylinder is registered once; guards hold for whoever calls without the board."""
    client = client_as("technician")
    body = {**examples.CYLINDER, "gross_mass_lb": 27.4}
    once = [
        client.post(f"{API}/cylinders", json=body, headers={"Idempotency-Key": "same"}).status_code
        for _ in range(3)
    ]
    assert once == [201, 201, 201]
    assert len(client.get(f"{API}/cylinders").get_json()["items"]) == 1
    assert_problem(client.post(f"{API}/cylinders", json=body), 409)
    changed = {**body, "serial": "HM-0002"}
    assert_problem(
        client.post(f"{API}/cylinders", json=changed, headers={"Idempotency-Key": "same"}),
        422,
        "idempotency-key-reused",
    )
    too_much = {"cylinder": body["serial"], "direction": "in", "refrigerant": "R-22", "mass_kg": 500.0}
    refused = client.post(f"{API}/transfers", json=too_much)
    assert refused.status_code in (409, 422), refused.text


@responses.activate
def test_api7_server_side_request_forgery(client_as: Clients, services: Services) -> None:
    """Targets inside are refused when asked for and at each attempt, whatever the name says by then."""
    client = client_as("supervisor")
    for url in (
        "https://localhost/",
        "https://127.0.0.1/",
        "https://[::1]/",
        "https://169.254.169.254/latest/meta-data",
        "https://10.0.0.1/",
        "https://2130706433/",
        "https://[::ffff:127.0.0.1]/",
        "http://fleet.example/",
        "gopher://fleet.example/",
        "file:///etc/passwd",
        "https://fleet.example@127.0.0.1/",
        f"https://{'a' * 64}.example/",
        "https://fleet..example/",
        f"https://{'a.' * 2000}example/",
    ):
        assert_problem(client.post(f"{API}/webhooks", json={"url": url}), 422)
    webhook = client.post(f"{API}/webhooks", json=examples.WEBHOOK).get_json()["id"]
    object.__setattr__(services.post.sender, "resolve", lambda host, port: ["127.0.0.1"])
    inside = responses.post(examples.WEBHOOK["url"], status=200)
    outcome = client.post(f"{API}/webhooks/{webhook}/pings").get_json()
    assert outcome["accepted"] is False
    assert "forbidden target" in outcome["error"]
    assert inside.call_count == 0


def test_api8_security_misconfiguration(
    app: Flask, client_as: Clients, services: Services, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """No default secret, no debug, no stack trace, no other origin, no extra method, closed headers."""
    monkeypatch.setenv("HEELMARK_DATA", str(tmp_path))
    for weak in ("", "changeme", "secret", "x" * 31):
        monkeypatch.setenv("HEELMARK_SECRET_KEY", weak)
        with pytest.raises(SettingsError, match="HEELMARK_SECRET_KEY"):
            load_settings()
    assert app.debug is False
    assert app.config["SESSION_COOKIE_HTTPONLY"] is True
    assert app.config["SESSION_COOKIE_SAMESITE"] == "Strict"
    client = client_as("reader")
    answer = client.get(f"{API}/places", headers={"Origin": "https://evil.example"})
    assert "Access-Control-Allow-Origin" not in answer.headers
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
    assert client.open(f"{API}/places", method="TRACE").status_code == 405
    monkeypatch.setattr(services.database, "reading", None)
    broken = client.get(f"{API}/places")
    assert_problem(broken, 500)
    assert "Traceback" not in broken.text
    assert "NoneType" not in broken.text


def test_api9_improper_inventory_management(app: Flask, client_as: Clients) -> None:
    """Everything that is served under the API is in its document, in one version, with who may call it."""
    document = client_as("reader").get(f"{API}/openapi.json").get_json()
    documented = {
        (method.upper(), re.sub(r"\{[^}]+\}", "{}", path))
        for path, operations in document["paths"].items()
        for method in operations
        if method in ("get", "post", "put", "patch", "delete")
    }
    served = {
        (method, re.sub(r"<[^>]+>", "{}", rule.rule))
        for rule in app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    own = {("GET", f"{API}/openapi.json"), ("GET", f"{API}/asyncapi.yaml")}
    prefix = "" if any(path.startswith("/api/") for _, path in documented) else API
    assert {(method, prefix + path) for method, path in documented} == served - own
    outside = {rule.rule for rule in app.url_map.iter_rules() if rule.endpoint.partition(".")[0] != "board"}
    assert {rule for rule in outside if not rule.startswith(f"{API}/")} == {"/healthz", "/readyz", "/metrics"}
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            if method in ("get", "post", "put", "patch", "delete"):
                assert operation.get("security"), (method, path)


@responses.activate
def test_api10_unsafe_consumption_of_apis(client_as: Clients, services: Services) -> None:
    """What a receiver answers is bounded, inert, and never followed."""
    sender = Sender(AddressPolicy(), resolve=lambda host, port: ["8.8.8.8"])
    url = "https://fleet.example/"
    elsewhere = responses.post("https://127.0.0.1/", status=200)
    responses.post(url, status=302, headers={"Location": "https://127.0.0.1/"})
    assert not sender.send(url, {}, b"{}").accepted
    assert elsewhere.call_count == 0
    responses.replace(responses.POST, url, status=200, body="A" * 5_000_000)
    assert len(sender.send(url, {}, b"{}").excerpt) == 512
    bomb = gzip.compress(b"B" * 50_000_000)
    responses.replace(responses.POST, url, status=200, body=bomb, headers={"Content-Encoding": "gzip"})
    assert len(sender.send(url, {}, b"{}").excerpt) <= 512
    responses.replace(
        responses.POST, url, status=500, body="<script>\x00\ud7ff\x1b[31m", headers={"Retry-After": "9" * 99}
    )
    outcome = sender.send(url, {}, b"{}")
    assert outcome.retry_after is None
    object.__setattr__(services.post.sender, "resolve", lambda host, port: ["8.8.8.8"])
    client = client_as("supervisor")
    webhook = client.post(f"{API}/webhooks", json={"url": url}).get_json()["id"]
    assert client.post(f"{API}/webhooks/{webhook}/pings").status_code == 200
    logged = client.get(f"{API}/webhooks/{webhook}/attempts")
    assert logged.content_type == "application/json"
    assert "\\u0000" not in logged.text


def test_sessions_of_people_are_strict_too(app: Flask, services: Services, actor: Actor) -> None:
    """Beside the list: the board's forms refuse a write without the session's token, and the cookie is strict."""
    people.create(services, actor, NewPerson("rosa", "Rosa", "supervisor", "a long password"))
    browser = app.test_client()
    page = browser.get("/sign-in").text
    token = re.search(r'name="csrf" value="([^"]+)"', page)
    assert token is not None
    form = {"login": "rosa", "password": "a long password"}
    assert browser.post("/sign-in", data=form).status_code == 400, "without the token"
    entered = browser.post("/sign-in", data={**form, "csrf": token.group(1)})
    assert entered.status_code == 303
    cookie = entered.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert browser.post("/settings", data={"units": "si"}).status_code == 400
