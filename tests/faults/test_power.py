"""A few losses of power; the storm has some under worker and PostgreSQL, `python -m tests.faults.power` has many."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.settings import make_secret
from tests.faults.disk import Disk
from tests.faults.power import service_on_sqlite

pytestmark = pytest.mark.slow


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    made = Disk(tmp_path / "disk")
    if not made.is_own:
        pytest.skip("only root can mount a disk of its own")
    yield made
    made.remove()


def test_a_loss_of_power_takes_what_was_not_synced_and_nothing_else(disk: Disk) -> None:
    """Or the tests below would show nothing."""
    with (disk.folder / "synced").open("wb") as synced, (disk.folder / "waiting").open("wb") as waiting:
        synced.write(b"kept")
        synced.flush()
        os.fsync(synced.fileno())
        waiting.write(b"gone")
        waiting.flush()
        disk.lose_power(lambda: None, lambda: None)
    assert (disk.folder / "synced").read_bytes() == b"kept"
    assert not (disk.folder / "waiting").exists() or (disk.folder / "waiting").read_bytes() == b""


def test_what_a_service_over_sqlite_acknowledged_is_there_once(disk: Disk, tmp_path: Path) -> None:
    told = service_on_sqlite(tmp_path, seed=3, losses=2)
    assert told["acknowledged"] >= 2 * 8
    assert (told["lost"], told["doubled"], told["refused"]) == ([], [], [])


def test_the_secret_of_a_first_start_is_there(disk: Disk) -> None:
    """Or what was sealed under it could never be opened again."""
    make_secret(disk.folder / "data")
    made = (disk.folder / "data" / "secret-key").read_text()
    disk.lose_power(lambda: None, lambda: None)
    assert (disk.folder / "data" / "secret-key").read_text() == made
