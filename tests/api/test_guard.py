"""Limits, headers, request ids: what every answer has and what nobody gets past."""

import json
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from flask.testing import FlaskClient
from limits.errors import StorageError

from service.app import create_app
from service.operations import tokens
from service.operations.support.context import Actor, Services
from service.settings import Settings


def made(services: Services, settings: Settings, actor: Actor, **changes: object) -> FlaskClient:
    client = create_app(replace(settings, **changes), services).test_client()
    secret = tokens.create(services, actor, name="limited", scope="reader").secret
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {secret}"
    return client


def test_too_many_requests_of_a_token_are_refused_with_when_to_come_back(
    services: Services, settings: Settings, actor: Actor
) -> None:
    client = made(services, settings, actor, request_limit="5 per minute")
    statuses = [client.get("/api/v1/cylinders").status_code for _ in range(7)]
    assert statuses == [200] * 5 + [429] * 2
    refused = client.get("/api/v1/cylinders")
    assert refused.get_json()["type"] == "/problems/too-many-requests"
    assert 0 < int(refused.headers["Retry-After"]) <= 60
    assert client.get("/healthz").status_code == 200


def test_one_token_does_not_use_up_another_ones_share(
    services: Services, settings: Settings, actor: Actor
) -> None:
    client = made(services, settings, actor, request_limit="2 per minute")
    other = tokens.create(services, actor, name="other", scope="reader").secret
    assert [client.get("/api/v1/places").status_code for _ in range(3)] == [200, 200, 429]
    headers = {"Authorization": f"Bearer {other}"}
    assert client.get("/api/v1/places", headers=headers).status_code == 200


def guess(client: FlaskClient, number: int) -> int:
    headers = {"Authorization": f"Bearer hm_guess{number}"}
    return client.get("/api/v1/places", headers=headers).status_code


def test_guessing_tokens_locks_the_address_out(services: Services, settings: Settings, actor: Actor) -> None:
    client = made(services, settings, actor, failure_limit="3 per minute")
    assert [guess(client, n) for n in range(5)] == [401, 401, 401, 429, 429]


def test_guesses_of_others_at_the_same_address_lock_no_valid_token_out(
    services: Services, settings: Settings, actor: Actor
) -> None:
    client = made(services, settings, actor, failure_limit="3 per minute", request_limit="50 per minute")
    assert [guess(client, n) for n in range(6)][-1] == 429
    assert [client.get("/api/v1/places").status_code for _ in range(10)] == [200] * 10


def test_a_valid_token_that_may_not_or_finds_nothing_is_no_guess(
    services: Services, settings: Settings, actor: Actor
) -> None:
    client = made(services, settings, actor, failure_limit="2 per minute")
    refused = [client.post("/api/v1/places", json={"name": "x", "kind": "van"}).status_code for _ in range(4)]
    assert refused == [403] * 4
    assert guess(client, 1) == 401


def test_a_made_up_token_is_no_key_of_its_own(services: Services, settings: Settings, actor: Actor) -> None:
    """A fresh one for every request would otherwise have a fresh limit, and fill the memory."""
    client = made(services, settings, actor, failure_limit="5 per minute")
    assert [guess(client, n) for n in range(30)].count(401) == 5


def test_the_neighbours_of_an_ipv6_line_count_together(
    services: Services, settings: Settings, actor: Actor
) -> None:
    client = made(services, settings, actor, failure_limit="3 per minute")

    def guess_from(address: str) -> int:
        headers = {"Authorization": "Bearer hm_guess"}
        base = {"REMOTE_ADDR": address}
        return client.get("/api/v1/places", headers=headers, environ_overrides=base).status_code

    assert [guess_from(f"2001:db8:1:2::{n}") for n in range(4)] == [401, 401, 401, 429]
    assert guess_from("2001:db8:1:3::1") == 401


def test_headers_state_the_limit_that_applies(services: Services, settings: Settings, actor: Actor) -> None:
    client = made(services, settings, actor, request_limit="10 per minute", failure_limit="4 per hour")
    headers = [client.get("/api/v1/places").headers for _ in range(2)][-1]
    assert headers["RateLimit-Policy"] == '"requests";q=10;w=60'
    assert re.fullmatch(r'"requests";r=8;t=\d+', headers["RateLimit"])
    assert not [name for name, _ in headers if name.startswith("X-RateLimit")]
    stranger = {"Authorization": "Bearer hm_guess"}
    refused = [client.get("/api/v1/places", headers=stranger) for _ in range(5)]
    assert refused[0].headers["RateLimit-Policy"] == '"failures";q=4;w=3600'
    assert refused[0].headers["RateLimit"].startswith('"failures";r=3;t=')
    assert refused[-1].headers["RateLimit"].startswith('"failures";r=0;t=')
    assert refused[-1].headers["Retry-After"] == refused[-1].headers["RateLimit"].rpartition("t=")[2]


def test_counts_that_cannot_be_kept_stop_nobody(
    services: Services, settings: Settings, actor: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A store of counts that is away, such as a Redis, is no reason to refuse."""
    client = made(services, settings, actor)

    def away(*_: object) -> None:
        raise StorageError(ConnectionError("away"))

    monkeypatch.setattr("limits.strategies.FixedWindowRateLimiter.hit", away)
    monkeypatch.setattr("limits.strategies.FixedWindowRateLimiter.get_window_stats", away)
    answer = client.get("/api/v1/places")
    assert answer.status_code == 200
    assert "RateLimit" not in answer.headers


def test_a_body_beyond_the_limit_is_refused(services: Services, settings: Settings, actor: Actor) -> None:
    client = made(services, settings, actor, body_limit=2000)
    answer = client.post("/api/v1/verdicts", data=b"[" + b" " * 3000 + b"]", content_type="application/json")
    assert (answer.status_code, answer.get_json()["type"]) == (413, "/problems/too-large")


def test_every_answer_carries_the_headers(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("reader")
    for path in ("/api/v1/cylinders", "/api/v1/nonsense", "/healthz", "/api/v1/openapi.json"):
        headers = client.get(path).headers
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert headers["X-Frame-Options"] == "DENY"
        assert "frame-ancestors 'none'" in headers["Content-Security-Policy"]
        assert headers["X-Request-ID"]
    assert "no-store" in client.get("/api/v1/tokens").headers["Cache-Control"]


def test_a_request_id_is_believed_from_a_proxy_alone(
    services: Services, settings: Settings, actor: Actor
) -> None:
    given = {"X-Request-ID": "0123456789abcdef-x"}
    behind = made(services, settings, actor, trusted_proxies=1)
    assert behind.get("/healthz", headers=given).headers["X-Request-ID"] == given["X-Request-ID"]
    bare = made(services, settings, actor)
    assert bare.get("/healthz", headers=given).headers["X-Request-ID"] != given["X-Request-ID"]
    wild = behind.get("/healthz", headers={"X-Request-ID": "a b<script>"}).headers["X-Request-ID"]
    assert "<" not in wild


def test_over_tls_it_says_so(services: Services, settings: Settings, actor: Actor) -> None:
    client = made(services, settings, actor, secure_cookies=True)
    assert "max-age" in client.get("/healthz").headers["Strict-Transport-Security"]


def test_one_line_a_request_without_what_it_carried(
    client_as: Callable[..., FlaskClient], capsys: pytest.CaptureFixture[str]
) -> None:
    client = client_as("reader")
    answer = client.get("/api/v1/cylinders/HM-404?secret=whisper")
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines() if line.startswith("{")]
    (line,) = [entry for entry in lines if entry.get("event") == "request.answered"]
    assert line["request_id"] == answer.headers["X-Request-ID"]
    assert (line["status"], line["path_serial"], line["actor"]) == (404, "HM-404", "token:test reader")
    assert "whisper" not in json.dumps(line)
    assert client.environ_base["HTTP_AUTHORIZATION"].partition(" ")[2] not in json.dumps(line)
