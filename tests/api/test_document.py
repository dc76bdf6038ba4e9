"""The OpenAPI document: valid, whole, and every example in it runs."""

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from openapi_spec_validator import OpenAPIV31SpecValidator
from werkzeug.test import TestResponse

from service.operations import cylinders, pairs
from service.operations.pairs import NewPair
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from tests.support.http import api_operations, documented_path, examples, path_of
from tests.support.judge import ScriptedJudge
from tests.support.story import NAMES, play

Clients = Callable[..., FlaskClient]


@pytest.fixture
def document(app: Flask) -> dict[str, Any]:
    told: dict[str, Any] = app.test_client().get("/api/v1/openapi.json").get_json()
    return told


def test_it_is_valid_openapi_3_1(document: dict[str, Any]) -> None:
    assert document["openapi"] == "3.1.0"
    assert list(OpenAPIV31SpecValidator(document).iter_errors()) == []


def test_every_route_is_in_it_with_its_security(app: Flask, document: dict[str, Any]) -> None:
    documented = {
        (method.upper(), path)
        for path, operations in document["paths"].items()
        for method in operations
        if method != "parameters"
    }
    assert len(documented) == len(list(api_operations(app)))
    names = []
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            if method != "parameters":
                assert operation["security"] == [{"bearer": []}], (method, path)
                assert operation["summary"], (method, path)
                names.append(operation["operationId"])
    assert len(set(names)) == len(names)


def test_errors_are_documented_as_problems(document: dict[str, Any]) -> None:
    default = document["components"]["responses"]["DEFAULT_ERROR"]
    assert list(default["content"]) == ["application/problem+json"]


def test_every_write_has_an_example(document: dict[str, Any]) -> None:
    for path, method, operation in writes(document):
        assert "example" in next(iter(operation["requestBody"]["content"].values())), (method, path)


def writes(document: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, method, operation)
        for path, operations in document["paths"].items()
        for method, operation in operations.items()
        if method != "parameters" and "requestBody" in operation
    ]


@pytest.fixture(autouse=True)
def _an_alarm_of_another_cylinder(services: Services, actor: Actor, judge: ScriptedJudge) -> None:
    cylinders.register(services, actor, "HM-0002", {"place": "shop"})
    judge.contamination = "mixed"
    reading = PressureReading(absolute_pa=1_044_000.0)
    pairs.record(services, actor, NewPair(temp_k=297.95, pressure=reading, serial="HM-0002"))
    judge.contamination, judge.disposition = "none-detected", "measure-again"


def test_every_example_runs(app: Flask, client_as: Clients) -> None:
    refused = play(app, [client_as("administrator"), client_as("worker")])
    told = {operation: answer.get_data(as_text=True) for operation, answer in refused.items()}
    assert told == {}


def test_what_the_examples_made_reads_as_documented(app: Flask, client_as: Clients) -> None:
    reader = client_as("administrator")
    play(app, [reader, client_as("worker")])
    documented = examples(app)
    for method, rule in api_operations(app):
        if method != "GET" or rule.rule == "/api/v1/events":
            continue
        answer = reader.get(path_of(rule, **NAMES), **documented[method, documented_path(rule)])
        assert answer.status_code == 200, (rule.rule, answer.get_data())


UNSPOKEN = {"Content-Type", "Content-Length", "Date"}
"""OpenAPI has its own places for the first two, and every server sends the date."""


def headers_of(document: dict[str, Any], answer: TestResponse, documented: str) -> set[str]:
    """The headers that the document names for an answer of this status."""
    responses = document["paths"][documented][answer.request.method.lower()]["responses"]
    told = responses.get(str(answer.status_code), responses["default"])
    while "$ref" in told:
        told = document["components"]["responses"][told["$ref"].rpartition("/")[2]]
    return set(told.get("headers", {}))


def test_every_header_of_every_answer_is_documented(
    app: Flask, document: dict[str, Any], client_as: Clients
) -> None:
    administrator, worker, stranger = client_as("administrator"), client_as("worker"), app.test_client()
    answers = [
        (stranger.get("/api/v1/places"), "/api/v1/places"),
        (administrator.get("/api/v1/places"), "/api/v1/places"),
        (administrator.get("/api/v1/places?limit=x"), "/api/v1/places"),
        (worker.get("/api/v1/places"), "/api/v1/places"),
        (administrator.get("/api/v1/cylinders/HM-404"), "/api/v1/cylinders/{serial}"),
        (administrator.get("/api/v1/cylinders/HM-0002/label.pdf"), "/api/v1/cylinders/{serial}/label.pdf"),
        (administrator.get("/api/v1/hookups?active=true"), "/api/v1/hookups"),
        (administrator.get("/api/v1/events"), "/api/v1/events"),
    ]
    for _ in range(2):
        body, key = {"name": "van-9", "kind": "van"}, {"Idempotency-Key": "once"}
        answers.append((administrator.post("/api/v1/places", json=body, headers=key), "/api/v1/places"))
    for answer, documented in answers:
        carried = set(answer.headers.keys()) - UNSPOKEN
        assert carried - headers_of(document, answer, documented) == set(), (documented, answer.status_code)
        assert {"RateLimit", "RateLimit-Policy"} <= carried
        answer.close()
