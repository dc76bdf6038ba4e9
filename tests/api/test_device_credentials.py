"""``/device-credentials`` over HTTP, and the files that the broker gets."""

from collections.abc import Callable
from pathlib import Path

from flask.testing import FlaskClient

from service.api import examples
from service.commands.broker import write
from service.operations.context import Services

PATH = "/api/v1/device-credentials"


def test_the_password_is_told_once(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("supervisor")
    made = client.post(PATH, json=examples.DEVICE_CREDENTIAL).get_json()
    assert len(made["password"]) >= 43
    (listed,) = client.get(PATH).get_json()["items"]
    assert listed == {name: value for name, value in made.items() if name != "password"}
    assert (listed["device"], listed["place"], listed["revoked_at"]) == ("gauge-17", "shop", None)
    assert client.get(PATH, query_string={"device": "other"}).get_json()["items"] == []


def test_a_gateway_has_no_device(client_as: Callable[..., FlaskClient]) -> None:
    made = client_as("supervisor").post(PATH, json={"place": "shop"}).get_json()
    assert made["device"] is None


def test_wild_names_and_unknown_places_are_refused(client_as: Callable[..., FlaskClient]) -> None:
    client = client_as("supervisor")
    for device in ("+", "#", "a/b", "a\nuser worker", ""):
        assert client.post(PATH, json={"place": "shop", "device": device}).status_code == 422
    assert client.post(PATH, json={"place": "nowhere", "device": "x"}).status_code == 404


def test_the_broker_gets_what_is_valid_and_only_when_it_changed(
    client_as: Callable[..., FlaskClient], services: Services, tmp_path: Path
) -> None:
    client = client_as("supervisor")
    made = client.post(PATH, json=examples.DEVICE_CREDENTIAL).get_json()
    files = (services, tmp_path / "broker", "heelmark", "worker", "a password for the worker")
    assert write(*files)
    assert not write(*files), "nothing changed"
    acl = (tmp_path / "broker" / "acl").read_text()
    assert f"user {made['username']}\ntopic write heelmark/shop/readings/gauge-17\n" in acl
    assert made["password"] not in (tmp_path / "broker" / "passwords").read_text()
    assert client.delete(f"{PATH}/{made['id']}").status_code == 204
    assert write(*files)
    assert made["username"] not in (tmp_path / "broker" / "acl").read_text()
    assert client.delete(f"{PATH}/{made['id']}").status_code == 404, "once"


def test_technicians_may_not(client_as: Callable[..., FlaskClient]) -> None:
    assert client_as("technician").post(PATH, json=examples.DEVICE_CREDENTIAL).status_code == 403
