"""A short storm: one fault of each kind. The long one is `python -m tests.faults.storm`."""

from pathlib import Path

import pytest

from tests.faults.processes import needs_postgres
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
