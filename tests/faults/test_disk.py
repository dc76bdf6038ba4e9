"""A disk that is really full under a running worker; needs root for the mount.

A read-only one is played in tests/ingest/test_store.py: a disk cannot be remounted while the worker writes to it.
"""

import os
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.ingest.test_end_to_end import DEVICE, Bench, until
from tests.support.broker import needs_mosquitto
from tests.support.fake_service import hookup
from tests.support.feeding import one_device


def _mount(*arguments: str) -> bool:
    return subprocess.run(["mount", *arguments], capture_output=True).returncode == 0


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "worker"
    folder.mkdir()
    if os.geteuid() != 0 or not _mount("-t", "tmpfs", "-o", "size=3m", "tmpfs", str(folder)):
        pytest.skip("needs root and a mount of its own")
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=False)


@pytest.fixture
def bench(tmp_path: Path, small_disk: Path) -> Iterator[Bench]:
    made = Bench(tmp_path)
    yield made
    made.stop()


def fill(folder: Path) -> None:
    with (folder / "filler").open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"x" * 4096)
        except OSError:
            pass


@needs_mosquitto
@pytest.mark.broker
def test_nothing_is_lost_while_the_disk_is_full(bench: Bench, small_disk: Path) -> None:
    packs = one_device(DEVICE, seed=4, duration_s=1200, start_s=time.time() - 1500)
    bench.service.hookups = [hookup(7, DEVICE)]
    worker = bench.worker()
    until(lambda: bench.status().get("sessions") == 1)
    bench.publish(packs[:10])
    until(lambda: bench.status().get("counts", {}).get("packs") == 10)
    fill(small_disk)
    bench.publish(packs[10:])
    time.sleep(3.0)
    assert worker.poll() is None
    assert bench.service.pairs == {}
    (small_disk / "filler").unlink()
    until(lambda: len(bench.service.pairs) == 1, 30)
