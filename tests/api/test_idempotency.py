"""A repeated key is answered again and done once."""

import threading
from collections.abc import Callable

from flask.testing import FlaskClient

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
