"""An installation in containers as browsers, gateways and technicians meet it, however it was started."""

import json
import os
import shutil
import signal
import ssl
import subprocess
import time
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import requests
from paho.mqtt.enums import CallbackAPIVersion

from service import VERSION
from tests.support.feeding import Made, one_device
from tests.support.stack import ROOT, wait_for

NAME, HOST = "heelmark.example", "localhost"
"""What everything inside calls the installation, and what it is called here: its certificate is good for both."""
COPIED = ("service", "ingest", "deploy", "pyproject.toml", "README.md", "LICENSE", ".containerignore")
IMAGE = f"localhost/heelmark:{VERSION}"
STANDINS = [f"localhost/heelmark-standin-{name}" for name in ("database", "broker", "proxy", "machine")]


def podman(*arguments: str) -> str:
    """What podman prints."""
    done = subprocess.run(["podman", *arguments], capture_output=True, text=True)
    assert done.returncode == 0, (arguments, done.stderr[-2000:])
    return done.stdout


def missing() -> str | None:
    """Why no containers can be run here; None where they can."""
    if "RUN_CONTAINERS" not in os.environ:
        return "RUN_CONTAINERS=1 runs them: ten minutes of building, starting and killing containers"
    if shutil.which("podman") is None:
        return "no podman on this machine"
    for image in (IMAGE, *STANDINS):
        if subprocess.run(["podman", "image", "exists", image]).returncode != 0:
            return f"no image {image}: `python -m tests.containers.standins` makes it"
    return None


def copy_of_checkout(folder: Path) -> None:
    """Copy what is built and run from, without what an installation made beside it."""
    ignored = shutil.ignore_patterns("__pycache__", "secrets", "tls", ".env")
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=ignored)
        else:
            shutil.copy(source, folder / name)


def kill(name: str) -> None:
    """End a container's first process as a fault would; its engine is to start it again."""
    pid = int(podman("inspect", "--format", "{{.State.Pid}}", name))
    os.kill(pid, signal.SIGKILL)

    def again() -> bool:
        state = json.loads(podman("inspect", "--format", "{{json .State}}", name))
        return bool(state["Running"]) and state["Pid"] not in (0, pid)

    wait_for(again, within_s=60)


class Installation:
    """One that runs.

    Parameters
    ----------
    url : str
        Where the service or its proxy answers.
    mqtt_port : int
        Where the broker's TLS is on this machine.
    ca : Path
        The authority's certificate.
    """

    def __init__(self, url: str, mqtt_port: int, ca: Path) -> None:
        self.url, self.mqtt_port, self.ca = url, mqtt_port, ca
        self.told: dict[str, Any] = {}

    def call(self, method: str, path: str, scope: str = "technician", **more: Any) -> requests.Response:
        """One request; where there is TLS its certificate is checked."""
        headers = {"Authorization": f"Bearer {self.told['tokens'][scope]}"}
        return requests.request(
            method, self.url + path, headers=headers, verify=str(self.ca), timeout=30, **more
        )

    def is_ready(self) -> bool:
        """Whether everything that readiness asks for is so."""
        try:
            return self.call("GET", "/readyz").status_code == 200
        except requests.RequestException:
            return False

    def publish(self, packs: list[Made]) -> None:
        """Send packs as the shop's gateway, over TLS, until the broker has them all."""
        user = self.told["mqtt"]
        client = mqtt.Client(CallbackAPIVersion.VERSION2)
        client.username_pw_set(user["user"], user["password"])
        client.tls_set(ca_certs=str(self.ca), tls_version=ssl.PROTOCOL_TLS_CLIENT)
        client.max_queued_messages_set(0)
        client.connect(HOST, self.mqtt_port)
        client.loop_start()
        wait_for(client.is_connected, within_s=60)
        sent = [client.publish(f"heelmark/shop/readings/{one.device}", one.payload, qos=1) for one in packs]
        for one in sent:
            one.wait_for_publish(60)
            assert one.is_published()
        client.disconnect()
        client.loop_stop()

    def measured(self, number: int) -> None:
        """A cylinder with a device on it, whose readings become one pair and a verdict."""
        device, serial = f"urn:dev:ops:32473-container-{number}", f"C-{number}"
        cylinder = {
            "serial": serial,
            "marks": "DOT-4BA400",
            "water_capacity_kg": 21.6,
            "tare_kg": 12.7,
            "place": "shop",
        }
        hookup = {
            "cylinder": serial,
            "pressure_device": device,
            "temperature_device": device,
            "valve": "vapour",
            "from": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(time.time() - 2000)),
        }
        for path, body in (("cylinders", cylinder), ("hookups", hookup)):
            answer = self.call("POST", f"/api/v1/{path}", json=body)
            assert answer.status_code == 201, answer.text
        # The worker asks for its hookups every few seconds; readings of a device that it does not know are not kept.
        time.sleep(10.0)
        self.publish(one_device(device, seed=4, duration_s=1200, start_s=time.time() - 1300))
        wait_for(lambda: len(self.pairs(number)) == 1, within_s=120)
        verdict = self.call("GET", f"/api/v1/cylinders/{serial}/verdict").json()
        assert "R-134a" in [one["designation"] for one in verdict["identity"]["candidates"]], verdict

    def pairs(self, number: int) -> list[dict[str, object]]:
        """The settled pairs of such a cylinder."""
        return self.call("GET", f"/api/v1/cylinders/C-{number}/pairs").json()["items"]
