"""
One shape for every error of every route: problem details by RFC 9457.

``{"type": "/problems/<slug>", "title": …, "status": …, "detail": …, "instance": …}``, with ``errors`` (field, value,
expected) where fields are at fault and ``reasons`` (code, text, source) where rules are.
"""

from collections.abc import Callable

import pytest
from flask import Flask
from flask.testing import FlaskClient

from service.operations.support.context import Services
from tests.support.http import PROBLEM, api_operations, assert_problem, path_of

Clients = Callable[..., FlaskClient]


def test_without_a_token_every_route_is_401(app: Flask, client_as: Clients) -> None:
    operations = list(api_operations(app))
    assert len(operations) > 25
    for method, rule in operations:
        response = app.test_client().open(path_of(rule), method=method)
        body = assert_problem(response, 401, "unauthorized")
        assert response.headers["WWW-Authenticate"].startswith("Bearer"), body


@pytest.mark.parametrize("body", [b"{", b"[]", b"null", b'"x"', b"\xff", b'{"unheard-of": 1}', b'{"a": NaN}'])
def test_a_bad_body_is_a_problem_on_every_route(app: Flask, client_as: Clients, body: bytes) -> None:
    clients = [client_as("administrator"), client_as("worker")]
    for method, rule in api_operations(app):
        if method not in {"POST", "PUT", "PATCH"}:
            continue
        for client in clients:
            headers = {"If-Match": '"1"'}
            answer = client.open(
                path_of(rule), method=method, data=body, content_type="application/json", headers=headers
            )
            if answer.status_code >= 400:
                assert answer.content_type == PROBLEM, (method, rule.rule, answer.get_data())
                assert answer.status_code < 500, (method, rule.rule, answer.get_data())


def test_a_body_that_is_not_json_is_unsupported(technician: FlaskClient) -> None:
    answer = technician.post("/api/v1/cylinders", data="serial=HM-1", content_type="text/plain")
    assert_problem(answer, 415, "unsupported-media-type")


def test_an_unknown_path_and_method(technician: FlaskClient) -> None:
    assert_problem(technician.get("/api/v1/nothing"), 404, "not-found")
    answer = technician.delete("/api/v1/cylinders")
    assert_problem(answer, 405, "method-not-allowed")
    assert "GET" in answer.headers["Allow"]


def test_a_validation_error_names_field_value_and_expectation(technician: FlaskClient) -> None:
    answer = technician.post(
        "/api/v1/verdicts",
        json={"pairs": [{"temperature_c": "24.8", "absolute_pressure_kpa": 1044.0}]},
    )
    body = assert_problem(answer, 422, "validation")
    assert body["errors"] == [{"field": "pairs.0.temperature_c", "value": "24.8", "expected": "a number"}]
    assert "pairs.0.temperature_c" in body["detail"]


def test_a_field_of_a_use_case_is_told_alike(technician: FlaskClient) -> None:
    answer = technician.post("/api/v1/cylinders", json={"serial": "HM-1", "tare_kg": 12, "gross_mass_kg": 3})
    (error,) = assert_problem(answer, 422, "validation")["errors"]
    assert (error["field"], error["value"]) == ("tare_kg", 12.0)


def test_a_conflict_lists_its_reasons(technician: FlaskClient) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1"})
    body = assert_problem(technician.post("/api/v1/cylinders", json={"serial": "HM-1"}), 409, "conflict")
    assert body["reasons"][0]["code"] == "serial-exists"


def test_a_fault_of_our_own_shows_nothing_of_itself(
    technician: FlaskClient, services: Services, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("secret table name")

    monkeypatch.setattr("service.operations.cylinders.listed", fail)
    body = assert_problem(technician.get("/api/v1/cylinders"), 500, "internal")
    assert "secret" not in str(body)


def test_too_large_a_body_is_refused(technician: FlaskClient, app: Flask) -> None:
    app.config["MAX_CONTENT_LENGTH"] = 100
    answer = technician.post("/api/v1/cylinders", json={"serial": "HM-1", "notes": "x" * 200})
    assert_problem(answer, 413, "too-large")


@pytest.mark.parametrize("serial", ["a%00b", "%0a", "%ff"])
def test_a_path_of_control_characters_names_nothing(technician: FlaskClient, serial: str) -> None:
    assert_problem(technician.get(f"/api/v1/cylinders/{serial}"), 404)


@pytest.mark.parametrize("number", ["0", "-1", "9223372036854775808", "99999999999999999999999", "1e3"])
def test_an_id_that_cannot_be_is_not_found(technician: FlaskClient, number: str) -> None:
    assert_problem(technician.delete(f"/api/v1/hookups/{number}"), 404)
