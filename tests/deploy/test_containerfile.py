"""The image: linted, pinned like the tests, and without anything that it does not need."""

import re
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).parents[2]
CONTAINERFILE = TOP / "deploy" / "containers" / "Containerfile"


def pins(path: Path) -> dict[str, str]:
    return dict(re.findall(r"^([\w.-]+)==([\w.]+)", path.read_text(), re.M))


def test_hadolint_finds_no_fault() -> None:
    linted = subprocess.run(
        [str(Path(sys.executable).with_name("hadolint")), str(CONTAINERFILE)], capture_output=True, text=True
    )
    assert (linted.returncode, linted.stdout) == (0, "")


@pytest.mark.parametrize("lock", ["deploy/containers/requirements.lock", "deploy/requirements.lock"])
def test_what_is_shipped_are_the_versions_that_the_tests_ran(lock: str) -> None:
    tested, shipped = pins(TOP / "requirements.lock"), pins(TOP / lock)
    assert len(shipped) > 30
    assert {name: tested.get(name) for name in shipped} == shipped


def needed(names: list[str]) -> set[str]:
    """What these requirements bring with them on this machine, by the metadata of what is installed."""
    found, asked = set[str](), [Requirement(name) for name in names]
    while asked:
        one = asked.pop()
        name = canonicalize_name(one.name)
        if name in found and not one.extras:
            continue
        found.add(name)
        further = map(Requirement, metadata.requires(name) or ())
        extras = {"", *one.extras}
        asked += [
            r for r in further if r.marker is None or any(r.marker.evaluate({"extra": e}) for e in extras)
        ]
    return found


@pytest.mark.parametrize(
    ("lock", "extras"), [("deploy/containers/requirements.lock", ()), ("deploy/requirements.lock", ("demo",))]
)
def test_everything_that_the_programs_need_is_shipped(lock: str, extras: tuple[str, ...]) -> None:
    """The image is installed without dependencies: what its lock lacks, it has not."""
    project = tomllib.loads((TOP / "pyproject.toml").read_text())["project"]
    asked = [*project["dependencies"], *(one for e in extras for one in project["optional-dependencies"][e])]
    shipped = {canonicalize_name(name) for name in pins(TOP / lock)}
    assert needed(asked) - shipped == set()


def test_the_image_has_no_test_tools_no_demo_and_no_equation_of_state() -> None:
    shipped, with_demo = (
        pins(TOP / "deploy/containers/requirements.lock"),
        pins(TOP / "deploy/requirements.lock"),
    )
    assert not shipped.keys() & {"pytest", "playwright", "hypothesis", "schemathesis", "matplotlib"}
    assert {"amqtt", "coolprop"} <= with_demo.keys() - shipped.keys()


def test_it_does_not_run_as_root() -> None:
    users = re.findall(r"^USER (\S+)", CONTAINERFILE.read_text(), re.M)
    assert users == ["10001:10001"]


def test_the_build_sees_only_what_it_copies() -> None:
    allowed = {line[1:] for line in (TOP / ".containerignore").read_text().split() if line.startswith("!")}
    copied = re.findall(r"^COPY (?!--from)(.+) \S+$", CONTAINERFILE.read_text(), re.M)
    assert {source for line in copied for source in line.split()} == allowed
    assert all((TOP / source).exists() for source in allowed)


def test_the_image_listens_where_its_port_is_published() -> None:
    text = CONTAINERFILE.read_text()
    assert re.search(r"\bHEELMARK_BIND=0\.0\.0\.0\b", text)
    assert re.findall(r"^EXPOSE (\d+)$", text, re.M) == ["8642"]
