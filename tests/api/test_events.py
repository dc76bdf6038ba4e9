"""The stream over HTTP: replay, cap, and giving the place back."""

from collections.abc import Callable
from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from service.api.resources.events import process_tail
from tests.support.http import assert_problem

EVENTS = "/api/v1/events"


def messages(response: Any, count: int) -> list[str]:
    """The first messages of a stream."""
    found: list[str] = []
    text = ""
    for chunk in response.response:
        text += chunk if isinstance(chunk, str) else chunk.decode()
        found = [part for part in text.split("\n\n") if part and not part.startswith("retry:")]
        if len(found) >= count:
            break
    response.close()
    return found[:count]


def test_a_stream_replays_after_the_last_id(client_as: Callable[..., FlaskClient]) -> None:
    supervisor = client_as("supervisor")
    supervisor.post("/api/v1/cylinders", json={"serial": "HM-1"})
    supervisor.post("/api/v1/cylinders", json={"serial": "HM-2"})
    response = supervisor.get(EVENTS, headers={"Last-Event-ID": "0"})
    assert response.status_code == 200
    assert response.content_type.startswith("text/event-stream")
    told = messages(response, 4)
    assert [message.split("\n")[0] for message in told] == ["id: 1", "id: 2", "id: 3", "id: 4"]
    assert "event: heelmark.cylinder.changed" in told[-2]
    assert "event: heelmark.cylinder.state" in told[-1]
    later = supervisor.get(EVENTS, headers={"Last-Event-ID": "3"})
    assert messages(later, 1)[0].startswith("id: 4")


def test_streams_past_the_cap_are_told_to_come_back(
    app: Flask, client_as: Callable[..., FlaskClient]
) -> None:
    reader = client_as("reader")
    open_streams = [reader.get(EVENTS, headers={"Last-Event-ID": "0"}) for _ in range(4)]
    assert_problem(reader.get(EVENTS), 429, "too-many-streams")
    assert reader.head(EVENTS).status_code == 200
    refused = client_as("technician").get(EVENTS)
    assert_problem(refused, 503, "streams-full")
    assert int(refused.headers["Retry-After"]) > 0
    for stream in open_streams:
        stream.close()
    with app.app_context():
        assert process_tail().listeners == 0
    after = reader.get(EVENTS, headers={"Last-Event-ID": "0"})
    assert after.status_code == 200
    after.close()


def test_a_last_id_without_sense_begins_now(technician: FlaskClient) -> None:
    for last in ("x", "-1", "9" * 40, "\u0663"):
        headers = {"Last-Event-ID": last.encode().decode("latin-1")}
        response = technician.get(EVENTS, headers=headers)
        assert response.status_code == 200
        response.close()


def test_the_log_reads_the_same_as_pages(client_as: Callable[..., FlaskClient]) -> None:
    supervisor = client_as("supervisor")
    for number in range(3):
        supervisor.post("/api/v1/cylinders", json={"serial": f"HM-{number}"})
    first = supervisor.get("/api/v1/event-log?limit=5").get_json()
    second = supervisor.get(f"/api/v1/event-log?limit=5&after={first['next']}").get_json()
    assert [event["id"] for event in first["items"] + second["items"]] == [*range(1, 9)]
    assert second["next"] is None
