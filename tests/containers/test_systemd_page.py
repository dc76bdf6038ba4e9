"""The page on systemd followed word for word on a host with nothing on it: a verdict, and all of it after a restart."""

import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.containers.installation import (
    HOST,
    NAME,
    STANDINS,
    Installation,
    copy_of_checkout,
    missing,
    podman,
)
from tests.support.stack import ROOT, free_ports, wait_for

MACHINE = "heelmark-machine"
STEPS = re.findall(r"^```sh\n(.*?)^```", (ROOT / "deploy" / "systemd" / "README.md").read_text(), re.M | re.S)

pytestmark = [
    pytest.mark.slow,
    pytest.mark.timeout(1500),
    pytest.mark.skipif(missing() is not None, reason=str(missing())),
]


class Machine(Installation):
    """A host of its own, whose ports are ours."""

    def __init__(self, folder: Path) -> None:
        https, mqtts = free_ports(2)
        super().__init__(f"https://{HOST}:{https}", mqtts, folder / "ca.crt")
        (folder / "checkout").mkdir()
        copy_of_checkout(folder / "checkout")
        ports = [
            part for one in (f"{https}:443", f"{mqtts}:8883") for part in ("--publish", f"127.0.0.1:{one}")
        ]
        name = ("--name", MACHINE, "--add-host", f"{NAME}:127.0.0.1")
        podman("run", "--detach", "--systemd=always", "--privileged", *name, *ports, STANDINS[3])
        podman("cp", str(folder / "checkout"), f"{MACHINE}:/checkout")

    def follow(self, step: str) -> str:
        """Do what a step says, in a shell that stops at the first fault; what it said."""
        options = ("--interactive", "--workdir", "/checkout", "--env", "DEBIAN_FRONTEND=noninteractive")
        command = ["podman", "exec", *options, MACHINE, "sh", "-eu"]
        done = subprocess.run(command, input=step, capture_output=True, text=True, timeout=600)
        assert done.returncode == 0, (step, done.stdout[-1500:], done.stderr[-1500:])
        return done.stdout


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    folder = tmp_path_factory.mktemp("machine")
    try:
        made = Machine(folder)
        for step in STEPS:
            said = made.follow(step)
            if found := re.search(r"^\{$.*?^\}$", said, re.M | re.S):
                made.told = json.loads(found.group(0))
        podman("cp", f"{MACHINE}:/checkout/deploy/compose/tls/ca.crt", str(made.ca))
        yield made
    finally:
        subprocess.run(["podman", "rm", "--force", "--time", "5", MACHINE], capture_output=True)


def test_every_step_leads_to_a_verdict(machine: Machine) -> None:
    assert len(STEPS) == 7
    wait_for(machine.is_ready, within_s=150)
    machine.measured(1)


def test_no_unit_has_failed_and_a_backup_is_made(machine: Machine) -> None:
    podman("exec", MACHINE, "systemctl", "start", "heelmark-backup.service")
    assert "heelmark-" in podman("exec", MACHINE, "ls", "/var/lib/heelmark-backups")
    assert podman("exec", MACHINE, "systemctl", "list-units", "--failed", "--plain", "--no-legend") == ""


def test_everything_is_there_again_after_the_host_has_started_again(machine: Machine) -> None:
    podman("restart", "--time", "60", MACHINE)
    wait_for(machine.is_ready, within_s=200)
    assert len(machine.pairs(1)) == 1
    machine.measured(2)
