"""A stolen credential is worth nothing: issued and revoked by API, seen by a running broker within seconds."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
import requests

from tests.support.waiting import until

BIN = Path(sys.executable).parent
MOSQUITTO = shutil.which("mosquitto", path=os.environ.get("PATH", "") + ":/usr/sbin")
pytestmark = [
    pytest.mark.broker,
    pytest.mark.skipif(MOSQUITTO is None, reason="no mosquitto on this machine"),
]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return server.getsockname()[1]


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def serves(port: int) -> bool:
    try:
        return requests.get(f"http://127.0.0.1:{port}/healthz", timeout=5).ok
    except requests.RequestException:
        return False


class Site:
    """A service, a broker, and the keeper of the broker's files, as in the deployment."""

    def __init__(self, folder: Path) -> None:
        self.port, self.mqtt_port = free_port(), free_port()
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")},
            "TMPDIR": str(folder),
            "HEELMARK_DATA": str(folder / "data"),
            "HEELMARK_HTTP_PORT": str(self.port),
            "HEELMARK_STREAM_CAP": "2",
            "HEELMARK_MQTT_PASSWORD": "a password for the worker",
        }
        credentials = str(folder / "credentials")
        for arguments in (
            ["migrate"],
            ["first-run", "--output", str(folder / "first.json")],
            ["broker-files", "--directory", credentials],
        ):
            command = [str(BIN / "heelmark"), *arguments]
            subprocess.run(command, env=self.environment, check=True, capture_output=True)
        # A copy under a name of its own, so that no other broker of this machine is told anything.
        broker = folder / "mosquitto-here"
        shutil.copy(str(MOSQUITTO), broker)
        keeper = ["broker-files", "--directory", credentials, "--watch", "--signal", broker.name]
        self.processes = [
            self.started(str(broker), "-c", self.configuration(folder, credentials)),
            self.started(str(BIN / "gunicorn"), "--config", "python:service.serving", "service.wsgi:app"),
            self.started(str(BIN / "heelmark"), *keeper),
        ]
        token = json.loads((folder / "first.json").read_text())["tokens"]["supervisor"]
        self.headers = {"Authorization": f"Bearer {token}"}
        until(lambda: serves(self.port) and listens(self.mqtt_port), 90)

    def configuration(self, folder: Path, credentials: str) -> str:
        path = folder / "mosquitto.conf"
        path.write_text(
            f"listener {self.mqtt_port} 127.0.0.1\nuser root\nallow_anonymous false\n"
            f"password_file {credentials}/passwords\nacl_file {credentials}/acl\n"
        )
        return str(path)

    def started(self, *command: str) -> "subprocess.Popen[bytes]":
        quiet = subprocess.DEVNULL
        return subprocess.Popen(command, env=self.environment, stdout=quiet, stderr=quiet)

    def call(self, method: str, path: str, **options: object) -> requests.Response:
        url = f"http://127.0.0.1:{self.port}/api/v1{path}"
        return requests.request(method, url, headers=self.headers, timeout=10, **options)


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    made = Site(tmp_path)
    yield made
    for process in made.processes:
        process.send_signal(signal.SIGTERM)
    for process in made.processes:
        process.wait(40)


@pytest.mark.slow
def test_a_device_gets_in_by_its_credential_until_that_is_revoked(site: Site) -> None:
    made = site.call("POST", "/device-credentials", json={"device": "gauge-17", "place": "shop"}).json()
    devices: list[mqtt.Client | None] = []
    until(lambda: devices.append(entered(site, made)) or devices[-1] is not None)
    device = devices[-1]
    assert device is not None
    assert site.call("DELETE", f"/device-credentials/{made['id']}").status_code == 204
    until(lambda: not device.is_connected())
    device.loop_stop()
    assert entered(site, made) is None


def entered(site: Site, made: dict[str, str]) -> mqtt.Client | None:
    """A connected device; none when the broker refuses it."""
    codes: list[object] = []
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
    client.username_pw_set(made["username"], made["password"])
    client.on_connect = lambda c, u, f, code, p: codes.append(code)
    client.connect("127.0.0.1", site.mqtt_port)
    client.loop_start()
    until(lambda: codes)
    if codes[0].is_failure:
        client.loop_stop()
        return None
    return client
