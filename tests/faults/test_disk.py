"""A disk that is really full, or really fails and goes read-only, under a running worker; and a damaged inbox."""

import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.disk import Disk
from tests.ingest.runtime.test_end_to_end import DEVICE, Bench
from tests.support.broker import needs_mosquitto
from tests.support.fake_service import hookup
from tests.support.feeding import Made, one_device
from tests.support.waiting import until

pytestmark = [needs_mosquitto, pytest.mark.broker]


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    made = Disk(tmp_path / "worker")
    yield made
    made.remove()


@pytest.fixture
def bench(tmp_path: Path, disk: Disk) -> Iterator[Bench]:
    made = Bench(tmp_path)
    made.service.hookups = [hookup(7, DEVICE)]
    yield made
    made.stop()


@pytest.fixture(scope="module")
def packs() -> list[Made]:
    return one_device(DEVICE, seed=4, duration_s=1200, start_s=time.time() - 1500)


def begun(bench: Bench, packs: list[Made]) -> subprocess.Popen[bytes]:
    """A worker that has taken the first ten packs."""
    worker = bench.worker()
    until(lambda: bench.status().get("sessions") == 1)
    bench.publish(packs[:10])
    until(lambda: bench.status().get("counts", {}).get("packs") == 10)
    return worker


def test_nothing_is_lost_while_the_disk_is_full(bench: Bench, disk: Disk, packs: list[Made]) -> None:
    worker = begun(bench, packs)
    disk.fill(worker.pid)
    bench.publish(packs[10:])
    time.sleep(3.0)
    assert worker.poll() is None
    assert bench.service.pairs == {}
    disk.free(worker.pid)
    until(lambda: len(bench.service.pairs) == 1, 30)


def test_a_worker_that_is_told_to_stop_while_the_disk_is_full_leaves_the_rest_to_the_broker(
    bench: Bench, disk: Disk, packs: list[Made]
) -> None:
    worker = begun(bench, packs)
    disk.fill(worker.pid)
    bench.publish(packs[10:])
    time.sleep(1.0)
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(timeout=60) == 1
    disk.free(worker.pid)
    bench.worker()
    until(lambda: len(bench.service.pairs) == 1, 30)


def test_nothing_is_lost_when_the_disk_fails_and_is_put_right(
    bench: Bench, disk: Disk, packs: list[Made]
) -> None:
    if not disk.is_own:
        pytest.skip("needs root and a mount of its own")
    worker = begun(bench, packs)
    disk.fail()
    bench.publish(packs[10:])
    time.sleep(2.0)
    assert worker.poll() is None
    worker.kill()
    worker.wait()
    # On a disk that is still read-only a worker says so and ends, for its supervisor to start it again.
    assert bench.worker().wait(timeout=60) == 1
    disk.repair()
    bench.worker()
    until(lambda: len(bench.service.pairs) == 1, 30)


def test_a_worker_starts_on_a_damaged_inbox_and_carries_on_in_the_middle(
    bench: Bench, packs: list[Made]
) -> None:
    worker = begun(bench, packs)
    bench.publish(packs[10:20])
    until(lambda: bench.status().get("counts", {}).get("packs") == 20)
    worker.kill()
    worker.wait()
    path = bench.folder / "worker" / "worker.sqlite"
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        root = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'outbox_due'").fetchone()[0]
        page = db.execute("PRAGMA page_size").fetchone()[0]
    db.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * page)
        file.write(b"\xee" * page)
    bench.worker()
    bench.publish(packs[20:])
    until(lambda: len(bench.service.pairs) == 1, 30)
    assert len(list(path.parent.glob("*.corrupt-*"))) >= 1
    until(lambda: bench.status().get("counts", {}).get("inbox-corrupt") == 1)
    (body,) = bench.service.pairs.values()
    assert body == undisturbed(packs)


def undisturbed(packs: list[Made]) -> dict:
    from ingest.estimator.settling_settings import SettlingSettings
    from ingest.sessions.pipeline import Pipeline
    from ingest.wire.hookup import Hookup

    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup.from_json(hookup(7, DEVICE))])
    found = [
        pair for pack in packs for pair in pipeline.take("shop", DEVICE, pack.payload, pack.stamp_s + 0.3)
    ]
    (pair,) = found
    return pair.as_json()
