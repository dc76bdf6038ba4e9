"""An installation in containers, made from nothing by `deploy/compose/start.sh` in a copy of this checkout."""

import json
import os
import re
import shlex
import shutil
import signal
import ssl
import subprocess
import sys
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import requests
from paho.mqtt.enums import CallbackAPIVersion

from service import VERSION
from tests.support.feeding import Made
from tests.support.stack import ROOT, free_ports, wait_for

NAME, HOST = "heelmark.example", "localhost"
"""What everything inside calls the installation, and what it is called here: its certificate is good for both."""
COPIED = ("service", "ingest", "deploy", "pyproject.toml", "README.md", "LICENSE", ".containerignore")
STANDINS = [f"localhost/heelmark-standin-{name}" for name in ("database", "broker", "proxy")]
IMAGES = [f"localhost/heelmark:{VERSION}", *STANDINS]
KINDS = ("database", "service", "watch", "deliverer", "broker", "credentials", "worker", "backup", "proxy")


def podman(*arguments: str) -> str:
    """What podman prints."""
    return subprocess.run(["podman", *arguments], capture_output=True, text=True, check=True).stdout


def _compose_program() -> str | None:
    beside = str(Path(sys.executable).parent)
    return shutil.which("podman-compose", path=os.pathsep.join((os.environ["PATH"], beside)))


def missing() -> str | None:
    """Why nothing can be run here; None where it can."""
    if "RUN_CONTAINERS" not in os.environ:
        return "RUN_CONTAINERS=1 runs them: ten minutes of building, starting and killing containers"
    if shutil.which("podman") is None or _compose_program() is None:
        return "no podman and podman-compose on this machine"
    for image in IMAGES:
        if subprocess.run(["podman", "image", "exists", image]).returncode != 0:
            return f"no image {image}: `python -m tests.containers.standins` makes it"
    if subprocess.run(["podman", "container", "exists", "heelmark_broker_1"]).returncode == 0:
        return "an installation in containers runs here already"
    return None


class Site:
    """One project of containers, reached as browsers and gateways reach it: through TLS alone."""

    def __init__(self, folder: Path) -> None:
        self.top, self.folder = folder, folder / "deploy" / "compose"
        ignored = shutil.ignore_patterns("__pycache__", "secrets", "tls", ".env")
        for name in COPIED:
            source = ROOT / name
            if source.is_dir():
                shutil.copytree(source, folder / name, ignore=ignored)
            else:
                shutil.copy(source, folder / name)
        https, http, mqtts = free_ports(3)
        override = ROOT / "tests" / "containers" / "standins" / "override.yaml"
        self.compose = [str(_compose_program()), "-f", "compose.yaml", "-f", str(override)]
        self.mqtt_port, self.url = mqtts, f"https://{HOST}:{https}"
        self.environ = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")}
        self.environ |= {
            "COMPOSE": shlex.join(self.compose),
            "BUILDAH_ISOLATION": "chroot",
            "HEELMARK_HOST": NAME,
            "HEELMARK_TIME_ZONE": "America/Denver",
            "HEELMARK_HTTPS_PORT": str(https),
            "HEELMARK_HTTP_PORT": str(http),
            "HEELMARK_MQTT_PORT": str(mqtts),
        }
        self.told: dict[str, Any] = {}

    def start(self, **environ: str) -> str:
        """Run the one command; what it said."""
        said = self.top / "start.log"
        with said.open("wb") as out:
            done = subprocess.run(
                ["sh", "deploy/compose/start.sh"],
                cwd=self.top,
                env=self.environ | environ,
                stdout=out,
                stderr=subprocess.STDOUT,
                timeout=600,
            )
        assert done.returncode == 0, said.read_text()[-3000:]
        text = said.read_text()
        if found := re.search(r"^\{$.*?^\}$", text, re.M | re.S):
            self.told = json.loads(found.group(0))
        return text

    def run(self, *arguments: str) -> str:
        """What one of the engine's commands prints for this project."""
        done = subprocess.run(
            [*self.compose, *arguments], cwd=self.folder, env=self.environ, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def end(self) -> None:
        """Remove everything, volumes too."""
        subprocess.run([*self.compose, "down", "-v"], cwd=self.folder, env=self.environ, capture_output=True)

    def call(self, method: str, path: str, scope: str = "technician", **more: Any) -> requests.Response:
        """One request through the proxy, whose certificate is checked."""
        headers = {"Authorization": f"Bearer {self.told['tokens'][scope]}"}
        ca = str(self.folder / "tls" / "ca.crt")
        return requests.request(method, self.url + path, headers=headers, verify=ca, timeout=30, **more)

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
        client.tls_set(ca_certs=str(self.folder / "tls" / "ca.crt"), tls_version=ssl.PROTOCOL_TLS_CLIENT)
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

    def kill(self, kind: str) -> None:
        """End a container's first process as a fault would; its engine is to start it again."""
        name = f"heelmark_{kind}_1"
        pid = int(podman("inspect", "--format", "{{.State.Pid}}", name))
        os.kill(pid, signal.SIGKILL)

        def again() -> bool:
            state = json.loads(podman("inspect", "--format", "{{json .State}}", name))
            return bool(state["Running"]) and state["Pid"] not in (0, pid)

        wait_for(again, within_s=60)
