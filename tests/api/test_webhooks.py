"""``/webhooks`` over HTTP; what delivery does is tested with the use cases."""

from collections.abc import Callable

import pytest
import responses
from flask.testing import FlaskClient

from service.api.http import examples
from service.operations.support.context import Services

PATH = "/api/v1/webhooks"


@pytest.fixture
def supervisor(client_as: Callable[..., FlaskClient]) -> FlaskClient:
    return client_as("supervisor")


def subscribed(client: FlaskClient, **changes: object) -> dict[str, object]:
    answer = client.post(PATH, json={**examples.WEBHOOK, **changes})
    assert answer.status_code == 201, answer.text
    return answer.get_json()


def test_the_secret_is_told_once(supervisor: FlaskClient) -> None:
    made = subscribed(supervisor)
    assert str(made["secret"]).startswith("whsec_")
    read = supervisor.get(f"{PATH}/{made['id']}").get_json()
    assert read == {name: value for name, value in made.items() if name != "secret"}
    assert (read["enabled"], read["failures"], read["next_attempt_at"]) == (True, 0, None)
    listed = supervisor.get(PATH).get_json()
    assert listed == {"items": [read], "next": None}


def test_a_target_inside_is_refused_with_the_field_named(supervisor: FlaskClient) -> None:
    for url in ("https://127.0.0.1/", "https://169.254.169.254/latest", "http://fleet.example/", "ftp://x"):
        answer = supervisor.post(PATH, json={"url": url})
        assert answer.status_code == 422
        assert answer.get_json()["errors"][0]["field"] == "url"


def test_rotation_answers_a_new_secret_and_until_when_the_old_one_signs(supervisor: FlaskClient) -> None:
    made = subscribed(supervisor)
    rotated = supervisor.post(f"{PATH}/{made['id']}/secret-rotations", json={"overlap_hours": 2}).get_json()
    assert rotated["secret"] != made["secret"]
    assert rotated["previous_secret_until"] == "2026-05-04T14:00:00Z"
    assert (
        supervisor.post(f"{PATH}/{made['id']}/secret-rotations", json={"overlap_hours": 721}).status_code
        == 422
    )


@responses.activate
def test_a_ping_tells_what_the_receiver_answered_and_is_logged(
    supervisor: FlaskClient, services: Services
) -> None:
    made = subscribed(supervisor)
    object.__setattr__(services.post.sender, "resolve", lambda host, port: ["8.8.8.8"])
    responses.post("https://fleet.example/heelmark", status=503, body="closed")
    outcome = supervisor.post(f"{PATH}/{made['id']}/pings").get_json()
    assert (outcome["accepted"], outcome["status"], outcome["error"]) == (False, 503, "answered 503")
    (attempt,) = supervisor.get(f"{PATH}/{made['id']}/attempts").get_json()["items"]
    assert (attempt["event_type"], attempt["excerpt"]) == ("heelmark.webhook.pinged", "closed")


def test_replay_and_enablement(supervisor: FlaskClient) -> None:
    made = subscribed(supervisor)
    replayed = supervisor.post(f"{PATH}/{made['id']}/replays", json=examples.REPLAY)
    assert (replayed.status_code, replayed.get_json()) == (202, {"events": 0})
    enabled = supervisor.post(f"{PATH}/{made['id']}/enablement", json={"skip_missed": True})
    assert enabled.get_json()["enabled"] is True


def test_deleted_it_is_gone(supervisor: FlaskClient) -> None:
    made = subscribed(supervisor)
    assert supervisor.delete(f"{PATH}/{made['id']}").status_code == 204
    assert supervisor.get(f"{PATH}/{made['id']}").status_code == 404
    assert supervisor.delete(f"{PATH}/{made['id']}").status_code == 404


def test_technicians_and_readers_may_not(client_as: Callable[..., FlaskClient]) -> None:
    for scope in ("technician", "reader", "worker"):
        client = client_as(scope)
        assert client.get(PATH).status_code == 403
        assert client.post(PATH, json=examples.WEBHOOK).status_code == 403
