"""A real service process over a database of its own, and the worker's and technician's calls to it."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import requests

from tests.support.live_batches import following, heard, with_state

ROOT = Path(__file__).parents[2]
PASSWORD = "a-long-test-password"


@dataclass
class Server:
    """The service on one port; it can be stopped and started again over the same data."""

    data: Path
    port: int
    secrets: dict[str, Any] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None
    threads: int = 64
    settings: dict[str, str] = field(default_factory=dict)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def environment(self) -> dict[str, str]:
        kept = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")}
        return {
            **kept,
            "HEELMARK_DATA": str(self.data),
            "HEELMARK_HTTP_PORT": str(self.port),
            "HEELMARK_NEW_PASSWORD": PASSWORD,
            **self.settings,
        }

    def password(self, login: str) -> str:
        """Of somebody who was made in ``set_up``."""
        board = self.secrets["board"]
        return str(board["password"]) if login == board["user"] else PASSWORD

    def command(self, *arguments: str) -> None:
        told = subprocess.run(
            [sys.executable, "-c", "from service.cli import main; main()", *arguments],
            env=self.environment,
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert told.returncode == 0, told.stderr

    def set_up(self) -> None:
        self.command("migrate")
        first_run = self.data / "first-run.json"
        self.command("first-run", "--elevation-m", "0", "--output", str(first_run))
        self.secrets = json.loads(first_run.read_text())
        for login, name, role in (("tess", "Tess Hale", "technician"), ("sam", "Sam Reed", "supervisor")):
            self.command("create-person", login, "--name", name, "--role", role)

    def start(self) -> None:
        with (self.data / "service.log").open("ab") as log:
            self.process = subprocess.Popen(
                [
                    *(sys.executable, "-m", "gunicorn", "service.wsgi:app", "--worker-class", "gthread"),
                    *(
                        "--threads",
                        str(self.threads),
                        "--bind",
                        f"127.0.0.1:{self.port}",
                        "--graceful-timeout",
                        "1",
                    ),
                ],
                env=self.environment,
                cwd=ROOT,
                stdout=log,
                stderr=log,
            )
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                if requests.get(f"{self.url}/healthz", timeout=2).ok:
                    return
            except (requests.ConnectionError, requests.Timeout):
                time.sleep(0.1)
        raise AssertionError((self.data / "service.log").read_text()[-2000:])

    def stop(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(timeout=20)
            self.process = None

    def call(self, scope: str, method: str, path: str, body: Any = None) -> Any:
        """Call the API with a token of a scope; the answer must be good."""
        token = self.secrets["tokens"][scope]
        answer = requests.request(
            method,
            f"{self.url}/api/v1{path}",
            json=body,
            headers={"Authorization": f"Bearer {token}", "Idempotency-Key": os.urandom(8).hex()},
            timeout=30,
        )
        assert answer.ok, f"{answer.status_code} {answer.text}"
        return answer.json() if answer.content else None

    def register(self, serial: str, **marks: Any) -> None:
        self.call("technician", "POST", "/cylinders", {"serial": serial, "place": "shop", **marks})

    def heard(self, *names: str) -> None:
        """Have the worker hear devices that read 24.0 °C and 943 kPa."""
        self.call("worker", "PUT", "/live", heard(*names, at=datetime.now(UTC)))

    def live(self, hookup: int, state: str, temperature_c: float = 24.8, gauge_kpa: float = 943.0) -> None:
        followed = following(self.call("reader", "GET", f"/hookups/{hookup}"), datetime.now(UTC))
        values = {"temperature_c": temperature_c, "gauge_pressure_kpa": gauge_kpa}
        said = [with_state(followed["hookups"][0], state, **values)]
        self.call("worker", "PUT", "/live", {"place": "shop", "hookups": said, "devices": []})

    def pair(self, temperature_c: float = 24.8, gauge_kpa: float = 943.0, **of: Any) -> Any:
        return self.call(
            "technician",
            "POST",
            "/equilibrium-pairs",
            {**of, "temperature_c": temperature_c, "gauge_pressure_kpa": gauge_kpa},
        )


def free_port() -> int:
    """A port that nobody listens on, so that two runs do not meet."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
