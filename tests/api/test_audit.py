"""``/audit``: every change is in it, with who did it."""

from collections.abc import Callable

from flask.testing import FlaskClient

from service.api.http import examples
from tests.support.clock import Clock


def test_it_tells_who_did_what(client_as: Callable[..., FlaskClient], clock: Clock) -> None:
    technician, supervisor = client_as("technician"), client_as("supervisor")
    clock.forward(hours=1)
    assert technician.post("/api/v1/cylinders", json=examples.CYLINDER).status_code == 201
    supervisor.post("/api/v1/device-credentials", json=examples.DEVICE_CREDENTIAL)
    entries = supervisor.get("/api/v1/audit").get_json()["items"]
    assert [(e["actor"], e["subject"].partition("/")[0]) for e in entries[:2]] == [
        ("token:test supervisor", "device-credentials"),
        ("token:test technician", "cylinders"),
    ]
    only = {"actor": "token:test technician", "from": "2026-05-04T12:30:00Z"}
    (entry,) = supervisor.get("/api/v1/audit", query_string=only).get_json()["items"]
    assert entry["data"]["change"] == "registered"


def test_no_secret_is_in_it(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("administrator")
    secrets = [
        client.post("/api/v1/tokens", json=examples.TOKEN).get_json()["secret"],
        client.post("/api/v1/webhooks", json=examples.WEBHOOK).get_json()["secret"],
        client.post("/api/v1/device-credentials", json=examples.DEVICE_CREDENTIAL).get_json()["password"],
    ]
    log = client.get("/api/v1/audit").get_data(as_text=True)
    assert not [secret for secret in secrets if secret in log]


def test_it_pages_and_is_for_supervisors(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("supervisor")
    first = client.get("/api/v1/audit", query_string={"limit": 1}).get_json()
    second = client.get("/api/v1/audit", query_string={"limit": 1, "after": first["next"]}).get_json()
    assert first["items"][0]["id"] > second["items"][0]["id"]
    assert client_as("technician").get("/api/v1/audit").status_code == 403
