"""An installation in containers, made from nothing by `deploy/compose/start.sh` in a copy of this checkout."""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

from tests.containers.installation import HOST, NAME, Installation, copy_of_checkout
from tests.containers.installation import missing as no_containers
from tests.support.stack import ROOT, free_ports

KINDS = ("database", "service", "watch", "deliverer", "broker", "credentials", "worker", "backup", "proxy")

WITHOUT_SYSTEMD = {} if Path("/run/systemd/system").exists() else {"DISABLE_HC_SYSTEMD": "true"}
"""Podman has systemd's timers run the health checks; where systemd does not run, it starts no container with one."""


def _compose_program() -> str | None:
    beside = str(Path(sys.executable).parent)
    return shutil.which("podman-compose", path=os.pathsep.join((os.environ["PATH"], beside)))


def missing() -> str | None:
    """Why nothing can be run here; None where it can."""
    if why := no_containers():
        return why
    if _compose_program() is None:
        return "no podman-compose on this machine"
    if subprocess.run(["podman", "container", "exists", "heelmark_broker_1"]).returncode == 0:
        return "an installation in containers runs here already"
    return None


class Site(Installation):
    """One project of containers, reached as browsers and gateways reach it: through TLS alone."""

    def __init__(self, folder: Path) -> None:
        self.top, self.folder = folder, folder / "deploy" / "compose"
        copy_of_checkout(folder)
        https, http, mqtts = free_ports(3)
        super().__init__(f"https://{HOST}:{https}", mqtts, self.folder / "tls" / "ca.crt")
        override = ROOT / "tests" / "containers" / "standins" / "override.yaml"
        self.compose = [str(_compose_program()), "-f", "compose.yaml", "-f", str(override)]
        self.environ = {name: value for name, value in os.environ.items() if not name.startswith("HEELMARK_")}
        self.environ |= {
            "COMPOSE": shlex.join(self.compose),
            "BUILDAH_ISOLATION": "chroot",
            **WITHOUT_SYSTEMD,
            "HEELMARK_HOST": NAME,
            "HEELMARK_TIME_ZONE": "America/Denver",
            "HEELMARK_HTTPS_PORT": str(https),
            "HEELMARK_HTTP_PORT": str(http),
            "HEELMARK_MQTT_PORT": str(mqtts),
        }

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
