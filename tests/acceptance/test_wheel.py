"""From the wheel, in an empty folder, `heelmark up` starts everything."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.support.stack import ROOT, Stack

pytestmark = pytest.mark.slow


def pip(*arguments: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build it from a copy: a build leaves folders in its source."""
    folder = tmp_path_factory.mktemp("wheel")
    tracked = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    source = folder / "source"
    for name in filter(None, tracked.decode().split("\0")):
        if (ROOT / name).is_file() and not name.startswith("tests/"):
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            (source / name).write_bytes((ROOT / name).read_bytes())
    pip("wheel", "--no-deps", "--wheel-dir", str(folder), str(source))
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_has_every_file_that_the_packages_read(wheel: Path) -> None:
    tracked = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout
    packaged = tuple(f"{room}/" for room in ("service", "ingest", "demo", "deploy/up"))
    # Pages for who reads the repository, a picture of one of them, and the form of a new migration.
    beside = ("service/README.md", "ingest/README.md", "ingest/how-well.md", "ingest/operations.md")
    beside += ("ingest/settling.svg", "ingest/mappings/README.md")
    beside += ("service/store/migrations/script.py.mako",)
    wanted = {
        name for name in tracked.decode().split("\0") if name.startswith(packaged) and name not in beside
    }
    assert wanted - set(zipfile.ZipFile(wheel).namelist()) == set()


def test_it_starts_everything_in_an_empty_folder(wheel: Path, tmp_path: Path) -> None:
    site, empty = tmp_path / "site", tmp_path / "empty"
    pip("install", "--no-deps", "--target", str(site), str(wheel))
    empty.mkdir()
    stack = Stack(empty / "var", PYTHONPATH=str(site))
    stack.environ["HEELMARK_DATA"] = "var"
    stack.said = tmp_path / "said.txt"
    try:
        stack.start(str(site / "bin" / "heelmark"), "up", cwd=empty)
        assert stack.get("/cylinders")["items"] == []
        assert stack.stop() == 0
    finally:
        stack.end()
    assert (empty / "var" / "heelmark.sqlite").exists()
