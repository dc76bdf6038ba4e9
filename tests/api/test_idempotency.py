"""A repeated key is answered again and done once."""

import threading
from collections.abc import Callable

from flask import Flask
from flask.testing import FlaskClient

from service.api.http.idempotent import LONGEST_KEY, _digest
from tests.support.http import assert_problem

PAIR = {"cylinder": "HM-1", "temperature_c": 24.8, "absolute_pressure_kpa": 1044.0}
PATH = "/api/v1/equilibrium-pairs"


def test_the_same_request_gets_the_first_answer(technician: FlaskClient) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1"})
    first = technician.post(PATH, json=PAIR, headers={"Idempotency-Key": "k"})
    again = technician.post(PATH, json=PAIR, headers={"Idempotency-Key": "k"})
    assert (again.status_code, again.data) == (201, first.data)
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.content_type == first.content_type
    assert len(technician.get("/api/v1/cylinders/HM-1/pairs").get_json()["items"]) == 1


def test_another_request_under_the_key_is_refused(technician: FlaskClient) -> None:
    technician.post("/api/v1/cylinders", json={"serial": "HM-1"})
    technician.post(PATH, json=PAIR, headers={"Idempotency-Key": "k"})
    other = technician.post(PATH, json={**PAIR, "temperature_c": 25}, headers={"Idempotency-Key": "k"})
    assert_problem(other, 422, "idempotency-key-reused")


def test_a_refusal_is_not_remembered(technician: FlaskClient) -> None:
    refused = technician.post(PATH, json=PAIR, headers={"Idempotency-Key": "k"})
    assert_problem(refused, 404)
    technician.post("/api/v1/cylinders", json={"serial": "HM-1"})
    assert technician.post(PATH, json=PAIR, headers={"Idempotency-Key": "k"}).status_code == 201


def test_a_key_that_cannot_be_is_refused(technician: FlaskClient) -> None:
    for key in ("", "x" * 201):
        assert_problem(technician.post(PATH, json=PAIR, headers={"Idempotency-Key": key}), 422)


def test_owners_do_not_share_keys(
    client_as: Callable[..., FlaskClient], services: object, actor: object
) -> None:
    from tests.conftest import make_owner

    stranger = make_owner(services, "other")  # type: ignore[arg-type]
    answers = [
        client.post("/api/v1/cylinders", json={"serial": "HM-1"}, headers={"Idempotency-Key": "k"})
        for client in (client_as("technician"), client_as("technician", stranger))
    ]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert "Idempotency-Replayed" not in answers[1].headers


def test_two_at_once_make_one(client_as: Callable[..., FlaskClient]) -> None:
    clients = [client_as("technician") for _ in range(4)]
    answers: list[int] = []

    def post(client: FlaskClient) -> None:
        made = client.post("/api/v1/cylinders", json={"serial": "HM-1"}, headers={"Idempotency-Key": "k"})
        answers.append(made.status_code)

    threads = [threading.Thread(target=post, args=(client,)) for client in clients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == [201] * 4
    assert len(clients[0].get("/api/v1/cylinders").get_json()["items"]) == 1


def test_what_the_first_answer_said_beside_its_body_is_said_again(technician: FlaskClient) -> None:
    first, again = (
        technician.post("/api/v1/cylinders", json={"serial": "HM-1"}, headers={"Idempotency-Key": "k"})
        for _ in range(2)
    )
    assert again.headers["Idempotency-Replayed"] == "true"
    for name in ("ETag", "Content-Type"):
        assert first.headers[name] == again.headers[name]


def test_the_same_words_elsewhere_or_in_another_way_are_another_request(app: Flask) -> None:
    told = set()
    for method, path in (("POST", "/a"), ("PUT", "/a"), ("POST", "/b"), ("POST", "/a?dry_run=true")):
        with app.test_request_context(path, method=method, data=b"{}"):
            told.add(_digest())
    assert len(told) == 4


def test_the_longest_key_is_taken_and_one_with_control_characters_is_not(technician: FlaskClient) -> None:
    def status(key: str, serial: str) -> int:
        headers = {"Idempotency-Key": key}
        return technician.post("/api/v1/cylinders", json={"serial": serial}, headers=headers).status_code

    assert status("x" * LONGEST_KEY, "HM-1") == 201
    assert status("a\x7fb", "HM-2") == 422
    assert status("a\x01b", "HM-3") == 422
