"""`deploy/up.sh` before Python runs: finding one, installing once, sentences for what a person can mend."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FAKE_PYTHON = """#!/bin/sh
printf '%s\\n' "$*" >>"$CALLS"
case "$*" in
*version_info*) exit "${TOO_OLD:-0}" ;;
*'-m venv'*) [ -z "$NO_VENV" ] || exit 1; mkdir -p .venv/bin && cp "$0" .venv/bin/python ;;
*'-m pip'*) exit "${PIP_FAILS:-0}" ;;
esac
"""


class Checkout:
    """A checkout with the scripts and the lock, and a Python that only notes what it is asked."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.calls = folder / "checkout", folder / "calls"
        (self.folder / "deploy").mkdir(parents=True)
        for name in ("up.sh", "environment.sh"):
            shutil.copy(ROOT / "deploy" / name, self.folder / "deploy" / name)
        self.lock = self.folder / "deploy" / "requirements.lock"
        self.lock.write_text("flask==3.1.3\n")
        self.tools = folder / "tools"
        self.tools.mkdir()
        python = self.tools / "python3"
        python.write_text(FAKE_PYTHON)
        python.chmod(0o755)
        for tool in ("sh", "dirname", "cmp", "cp", "mkdir", "rm"):
            (self.tools / tool).symlink_to(shutil.which(tool))

    def up(self, *arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
        self.calls.write_text("")
        return subprocess.run(
            ["sh", "deploy/up.sh", *arguments],
            cwd=self.folder,
            env={"PATH": str(self.tools), "CALLS": str(self.calls), "NO_VENV": "", **environ},
            capture_output=True,
            text=True,
        )

    def asked(self, what: str) -> list[str]:
        return [line for line in self.calls.read_text().splitlines() if what in line]


@pytest.fixture
def checkout(tmp_path):
    return Checkout(tmp_path)


def test_the_first_start_installs_with_hashes_and_hands_its_arguments_on(checkout):
    done = checkout.up("--demo")
    assert done.returncode == 0, done.stderr
    locked, own = checkout.asked("pip install")
    assert "--require-hashes -r deploy/requirements.lock" in locked
    assert "--no-deps --editable ." in own
    assert checkout.asked("deploy.up") == ["-m deploy.up --demo"]
    assert "Installing" in done.stdout


def test_the_second_start_installs_nothing(checkout):
    checkout.up()
    done = checkout.up()
    assert (done.returncode, done.stdout, checkout.asked("pip"), checkout.asked("venv")) == (0, "", [], [])


def test_a_changed_lock_installs_again_into_the_same_environment(checkout):
    checkout.up()
    checkout.lock.write_text("flask==3.1.4\n")
    checkout.up()
    assert len(checkout.asked("pip install")) == 2
    assert checkout.asked("venv") == []


def test_an_installation_that_failed_is_told_and_tried_again(checkout):
    done = checkout.up(PIP_FAILS="1")
    assert done.returncode == 1
    assert "Heelmark cannot start: the dependencies could not be installed" in done.stderr
    assert checkout.asked("deploy.up") == []
    assert checkout.up().returncode == 0
    assert len(checkout.asked("pip install")) == 2


def test_an_old_python_gets_a_sentence(checkout):
    done = checkout.up(TOO_OLD="1")
    assert done.returncode == 1
    assert "it needs Python 3.11 or newer" in done.stderr
    assert "HEELMARK_PYTHON=" in done.stderr


def test_a_named_python_that_is_not_there_is_named(checkout):
    done = checkout.up(HEELMARK_PYTHON="/nowhere/python3")
    assert done.returncode == 1
    assert "/nowhere/python3" in done.stderr


def test_a_python_without_venv_gets_a_sentence_and_leaves_nothing_half_made(checkout):
    done = checkout.up(NO_VENV="yes")
    assert done.returncode == 1
    assert "install the package python3-venv" in done.stderr
    assert not (checkout.folder / ".venv").exists()


def test_it_is_found_from_any_folder(checkout, tmp_path):
    script = os.path.relpath(checkout.folder / "deploy" / "up.sh", tmp_path)
    environ = {"PATH": str(checkout.tools), "CALLS": str(checkout.calls), "NO_VENV": ""}
    done = subprocess.run(["sh", script], cwd=tmp_path, env=environ, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert (checkout.folder / ".venv" / "installed.lock").exists()
