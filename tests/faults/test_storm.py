"""A short storm: one fault of each kind. The long one is `python -m tests.faults.storm`."""

from pathlib import Path

import pytest

from tests.faults.disk import Disk
from tests.faults.processes import MachineTime, needs_postgres
from tests.faults.storm import Storm
from tests.faults.wrongs import Wrongs
from tests.support.broker import needs_mosquitto


@needs_mosquitto
@needs_postgres
@pytest.mark.broker
@pytest.mark.postgres
@pytest.mark.slow
def test_every_pair_is_in_the_database_once_after_one_fault_of_each_kind(tmp_path: Path) -> None:
    storm = Storm(tmp_path, seed=5, hookups=12, spread_s=100.0, playing_s=25.0)
    try:
        kinds = Wrongs(storm.stage, storm.rng).kinds()
        storm.blow(len(kinds), longest_s=0.5, pause_s=0.1, minutes=False)
        report = storm.settle(60.0)
    finally:
        storm.stage.end()
    assert set(report.faults) == set(kinds)
    assert report.expected >= 8
    assert report.missing == []
    assert report.unexpected == []
    assert report.whole


def test_this_machine_can_bring_on_every_kind_of_fault(tmp_path: Path) -> None:
    """The storm above leaves out what the machine cannot do; this says by name what that is."""
    disk = Disk(tmp_path / "disk")
    disk.remove()
    lacking = [] if disk.is_own else ["a disk of its own, so none goes read-only (root and mount)"]
    lacking += [] if MachineTime.compiler() else ["a C compiler, so no clock is set"]
    if lacking:
        pytest.skip(f"the storm lacks {'; '.join(lacking)}")
