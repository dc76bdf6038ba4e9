"""The image: linted, pinned like the tests, and without anything that it does not need."""

import re
import subprocess
import sys
from pathlib import Path

TOP = Path(__file__).parents[2]
CONTAINERFILE = TOP / "deploy" / "containers" / "Containerfile"


def pins(path: Path) -> dict[str, str]:
    return dict(re.findall(r"^([\w.-]+)==([\w.]+)", path.read_text(), re.M))


def test_hadolint_finds_no_fault() -> None:
    linted = subprocess.run(
        [str(Path(sys.executable).with_name("hadolint")), str(CONTAINERFILE)], capture_output=True, text=True
    )
    assert (linted.returncode, linted.stdout) == (0, "")


def test_the_image_runs_the_versions_that_the_tests_ran() -> None:
    tested, shipped = pins(TOP / "requirements.lock"), pins(TOP / "deploy/containers/requirements.lock")
    assert len(shipped) > 30
    assert {name: tested.get(name) for name in shipped} == shipped


def test_the_image_has_no_test_tools() -> None:
    shipped = pins(TOP / "deploy/containers/requirements.lock")
    assert not shipped.keys() & {"pytest", "playwright", "hypothesis", "schemathesis", "matplotlib"}


def test_it_does_not_run_as_root() -> None:
    users = re.findall(r"^USER (\S+)", CONTAINERFILE.read_text(), re.M)
    assert users == ["10001:10001"]


def test_the_build_sees_only_what_it_copies() -> None:
    allowed = {line[1:] for line in (TOP / ".containerignore").read_text().split() if line.startswith("!")}
    copied = re.findall(r"^COPY (?!--from)(.+) \S+$", CONTAINERFILE.read_text(), re.M)
    assert {source for line in copied for source in line.split()} == allowed
    assert all((TOP / source).exists() for source in allowed)
