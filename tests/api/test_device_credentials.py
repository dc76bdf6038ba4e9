"""``/device-credentials`` over HTTP, and the files that the broker gets."""

import base64
from collections.abc import Callable
from pathlib import Path

from flask.testing import FlaskClient

from service.api.http import examples
from service.commands.broker import write
from service.operations.device_credentials import SiteUser
from service.operations.support.context import Services
from service.outbound.broker_access import verifies, worker_user

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
    for device in ("gateway", "+", "#", "a/b", "a\nuser worker", ""):
        assert client.post(PATH, json={"place": "shop", "device": device}).status_code == 422
    assert client.post(PATH, json={"place": "nowhere", "device": "x"}).status_code == 404


def test_the_broker_gets_what_is_valid_and_only_when_it_changed(
    client_as: Callable[..., FlaskClient], services: Services, tmp_path: Path
) -> None:
    client = client_as("supervisor")
    made = client.post(PATH, json=examples.DEVICE_CREDENTIAL).get_json()
    site = [SiteUser("worker", "a password for the worker", worker_user)]
    files = (services, tmp_path / "broker", "heelmark", site)
    assert write(*files)
    assert not write(*files), "nothing changed"
    acl = (tmp_path / "broker" / "acl").read_text()
    assert f"user {made['username']}\ntopic write heelmark/shop/readings/gauge-17\n" in acl
    assert made["password"] not in (tmp_path / "broker" / "passwords").read_text()
    assert client.delete(f"{PATH}/{made['id']}").status_code == 204
    assert write(*files)
    assert made["username"] not in (tmp_path / "broker" / "acl").read_text()
    assert client.delete(f"{PATH}/{made['id']}").status_code == 404, "once"


def test_the_topics_of_the_mappings_that_stand_are_opened_and_closed_again(
    client_as: Callable[..., FlaskClient], services: Services, tmp_path: Path
) -> None:
    client = client_as("supervisor")
    client.post(PATH, json={"place": "shop"})
    value = [{"quantity": "mass", "path": "kg", "unit": "kg"}]
    for name, topic in (
        ("yard", "yard/{place}/{device}/state"),
        ("own", "heelmark/{place}/readings/{device}"),
    ):
        answer = client.put(
            f"/api/v1/mappings/{name}", json={"mapping": {"name": name, "topic": topic, "value": value}}
        )
        assert answer.status_code < 300, answer.text
    files = (services, tmp_path, "heelmark", [SiteUser("worker", "a password for it", worker_user)])
    assert write(*files)
    acl = (tmp_path / "acl").read_text()
    assert "topic read heelmark/+/readings/+\ntopic read yard/+/+/state\n\nuser" in acl
    assert acl.endswith("topic read heelmark/shop/refused/+\ntopic write yard/shop/+/state\n")
    assert client.delete("/api/v1/mappings/yard").status_code == 204
    assert write(*files)
    assert "yard" not in (tmp_path / "acl").read_text()


def test_the_passwords_file_gives_nothing_of_a_password_away(services: Services, tmp_path: Path) -> None:
    """A salt made from a password would; a hash that still fits is kept, another password makes a new one."""
    told = []
    for password in ("a password for the worker", "a password for the worker", "another password of it"):
        write(services, tmp_path, "heelmark", [SiteUser("worker", password, worker_user)])
        user, _, hashed = (tmp_path / "passwords").read_text().splitlines()[0].partition(":")
        salt = base64.b64decode(hashed.split("$")[3])
        assert not [n for n in range(len(password) - 3) if password[n : n + 4].encode() in salt]
        assert user == "worker" and verifies(password, hashed)
        told.append(hashed)
    assert told[0] == told[1] != told[2]


def test_technicians_may_not(client_as: Callable[..., FlaskClient]) -> None:
    assert client_as("technician").post(PATH, json=examples.DEVICE_CREDENTIAL).status_code == 403
