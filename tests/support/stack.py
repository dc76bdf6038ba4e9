"""The one-machine stack as a user starts it, on free ports and a data folder of its own."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import paho.mqtt.client as mqtt
import psutil
import requests
from paho.mqtt.enums import CallbackAPIVersion

ROOT = Path(__file__).parents[2]


def free_ports(count: int) -> list[int]:
    """Ports that nothing listens on at the moment."""
    sockets = [socket.create_server(("127.0.0.1", 0)) for _ in range(count)]
    ports = [one.getsockname()[1] for one in sockets]
    for one in sockets:
        one.close()
    return ports


class Stack:
    """Starts and stops `deploy.up`, and talks to it as users and devices do."""

    def __init__(self, data: Path, *arguments: str, **environ: str) -> None:
        http, broker = free_ports(2)
        self.data = data
        self.arguments = arguments
        self.environ = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")}
        self.environ |= {
            "HEELMARK_DATA": str(data),
            "HEELMARK_HTTP_PORT": str(http),
            "HEELMARK_MQTT_PORT": str(broker),
            **environ,
        }
        self.said: Path = data.parent / f"{data.name}.out"
        self.process: subprocess.Popen[bytes] | None = None
        self._gateways: dict[str, dict[str, str]] = {}

    def start(self, *command: str, cwd: Path = ROOT) -> "Stack":
        """Start and wait until it says that it is running; `command` is how, if not from the checkout."""
        with self.said.open("wb") as out:
            self.process = subprocess.Popen(
                [sys.executable, *(command or ("-m", "deploy.up")), *self.arguments],
                cwd=cwd,
                env=self.environ,
                stdout=out,
                stderr=subprocess.STDOUT,
            )
        wait_for(lambda: "Running." in self.output() or self.process.poll() is not None, within_s=240)
        assert self.process.poll() is None, self.output()
        return self

    def output(self) -> str:
        """Everything it printed."""
        return self.said.read_text(encoding="utf-8")

    def stop(self, number: int = signal.SIGTERM) -> int:
        """Ask it to stop; its exit code."""
        self.process.send_signal(number)
        return self.process.wait(90)

    def end(self) -> None:
        """Stop it whatever happened."""
        if self.process is not None and self.process.poll() is None:
            self.stop()

    def children(self) -> dict[str, psutil.Process]:
        """Its child processes by what they are."""
        words = {
            "broker": ("mosquitto", "amqtt_broker"),
            "service": ("gunicorn",),
            "worker": ("ingest",),
            "watch": ("heelmark watch",),
            "deliverer": ("deliver",),
            "broker-files": ("broker-files",),
            "demo": ("demo",),
        }
        found = {}
        for child in psutil.Process(self.process.pid).children():
            try:
                line = " ".join(child.cmdline()[:5])
            except psutil.Error:  # it has just ended
                continue
            found |= {name: child for name, some in words.items() if any(word in line for word in some)}
        return found

    def command(self, *arguments: str) -> str:
        """What one of the service's own commands prints, as the operator of this installation runs it."""
        command = [str(Path(sys.executable).with_name("heelmark")), *arguments]
        done = subprocess.run(command, env=self.environ, capture_output=True, text=True, timeout=120)
        assert done.returncode == 0, done.stderr
        return done.stdout

    @property
    def first_run(self) -> dict[str, Any]:
        """What a script needs."""
        return json.loads((self.data / "first-run.json").read_text(encoding="utf-8"))

    def call(self, method: str, path: str, scope: str = "technician", **more: Any) -> requests.Response:
        """One request to the API."""
        told = self.first_run
        headers = {"Authorization": f"Bearer {told['tokens'][scope]}"}
        url = f"{told['base_url']}/api/v1{path}"
        return requests.request(method, url, headers=headers, timeout=30, **more)

    def get(self, path: str, **query: str) -> Any:
        """A resource that must be there."""
        answer = self.call("GET", path, "reader", params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: dict[str, Any]) -> Any:
        """Create something that must be accepted."""
        answer = self.call("POST", path, json=body)
        assert answer.status_code == 201, answer.text
        return answer.json()

    def gateway(self, place: str) -> dict[str, str]:
        """The broker user of a place's gateway; the first run has made the shop's."""
        if place not in self._gateways:
            answer = self.call("POST", "/device-credentials", "supervisor", json={"place": place})
            assert answer.status_code == 201, answer.text
            made = answer.json()
            self._gateways[place] = {"user": made["username"], "password": made["password"]}
        return self._gateways[place]

    def publish(self, packs: list[tuple[str, str, Any]]) -> None:
        """Send packs of (place, device, records) as gateways do; returns once the broker has them all."""
        told = self.first_run["mqtt"]
        self._gateways.setdefault("shop", told)
        clients = {place: self._connected(self.gateway(place)) for place in {place for place, _, _ in packs}}
        sent = [
            clients[place].publish(f"{told['root']}/{place}/readings/{device}", json.dumps(pack), qos=1)
            for place, device, pack in packs
        ]
        for one in sent:
            one.wait_for_publish(60)
            assert one.is_published()
        for client in clients.values():
            client.disconnect()
            client.loop_stop()

    def _connected(self, user: dict[str, str]) -> mqtt.Client:
        client = mqtt.Client(CallbackAPIVersion.VERSION2)
        client.username_pw_set(user["user"], user["password"])
        client.reconnect_delay_set(1, 1)
        client.max_queued_messages_set(0)
        client.connect("127.0.0.1", int(self.environ["HEELMARK_MQTT_PORT"]))
        client.loop_start()
        # A user that was made just now is known to the broker within seconds.
        wait_for(client.is_connected, within_s=20)
        return client


def wait_for(condition: Callable[[], Any], *, within_s: float, every_s: float = 0.25) -> Any:
    """Return what the condition gives once it is true; fails after the time, [s]."""
    deadline = time.monotonic() + within_s
    while time.monotonic() < deadline:
        if found := condition():
            return found
        time.sleep(every_s)
    raise AssertionError(
        f"{getattr(condition, '__doc__', None) or condition} did not come within {within_s} s"
    )


def moved(text: str, stack: Stack) -> str:
    """A README command with the default addresses replaced by the stack's."""
    text = text.replace(":8642", f":{stack.environ['HEELMARK_HTTP_PORT']}")
    text = re.sub(r"\b18830\b", stack.environ["HEELMARK_MQTT_PORT"], text)
    return text.replace("var/first-run.json", str(stack.data / "first-run.json")).replace(
        ".venv/bin/python", sys.executable
    )
