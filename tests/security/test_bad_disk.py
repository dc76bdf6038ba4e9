"""The whole installation on a disk that fills up, and with its database locked by somebody else."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
import requests

from tests.faults.disk import Disk
from tests.support.pace import bound_s, lone_s
from tests.support.stack import Stack, wait_for

pytestmark = pytest.mark.slow
DISK_MB = 200


@pytest.fixture(scope="module")
def cramped(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Stack, Disk]]:
    disk = Disk(tmp_path_factory.mktemp("cramped") / "disk", DISK_MB)
    if not disk.is_own:
        pytest.skip("only root can mount a small disk")
    stack = Stack(disk.folder / "var")
    stack.said = disk.folder.parent / "said.out"
    try:
        yield stack.start(), disk
    finally:
        disk.free(0)
        stack.end()
        disk.remove()


def new_place(stack: Stack, number: int) -> requests.Response:
    body = {"name": f"van-{number}-" + "x" * 40, "kind": "van"}
    return stack.call("POST", "/places", "supervisor", json=body)


def ready(stack: Stack) -> dict[str, str]:
    """The checks that fail, with what they say."""
    checks = requests.get(f"{stack.first_run['base_url']}/readyz", timeout=30).json()["checks"]
    return {check["check"]: check["text"] for check in checks if not check["healthy"]}


def test_a_full_disk_refuses_writes_in_words_and_everything_returns_by_itself(
    cramped: tuple[Stack, Disk],
) -> None:
    stack, disk = cramped
    assert new_place(stack, 0).status_code == 201
    wait_for(lambda: ready(stack) == {}, within_s=30)
    running = {name: child.pid for name, child in stack.children().items()}
    disk.fill(0)
    refused = next(a for a in (new_place(stack, n) for n in range(1, 3000)) if a.status_code != 201)
    assert refused.status_code == 503, refused.text
    assert int(refused.headers["Retry-After"]) > 0
    wait_for(lambda: "disk" in ready(stack), within_s=10)
    began, logs = time.monotonic(), folder_bytes(stack.data / "log")
    while time.monotonic() - began < 80:
        assert stack.call("GET", "/places", "reader").status_code == 200
        assert requests.get(f"{stack.first_run['base_url']}/sign-in", timeout=30).status_code == 200
        assert new_place(stack, 5000).status_code == 503
        time.sleep(1.0)
    assert {name: child.pid for name, child in stack.children().items()} == running, (
        "nobody was killed for it"
    )
    assert folder_bytes(stack.data / "log") - logs < 1_000_000
    disk.free(0)
    wait_for(lambda: new_place(stack, 6000).status_code in (201, 409), within_s=30)
    # A backup that fell into this time is tried again within the hour.
    wait_for(lambda: set(ready(stack)) <= {"nightly"}, within_s=60)


def test_a_database_that_somebody_else_locks_is_told_and_reads_go_on(cramped: tuple[Stack, Disk]) -> None:
    stack, _ = cramped
    lone = lone_s(lambda: stack.get("/places"))
    with closing(sqlite3.connect(stack.data / "heelmark.sqlite", isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        refused = new_place(stack, 7000)
        assert refused.status_code == 503
        assert int(refused.headers["Retry-After"]) > 0
        assert time.monotonic() - began < bound_s(25.0, lone)
        assert stack.call("GET", "/places", "reader").status_code == 200
        wait_for(lambda: "locked" in ready(stack).get("disk", ""), within_s=10)
        holder.execute("ROLLBACK")
    wait_for(lambda: new_place(stack, 7001).status_code in (201, 409), within_s=30)


def folder_bytes(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.iterdir())
