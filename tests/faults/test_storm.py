"""A short storm: one fault of each kind. The long one is `python -m tests.faults.storm`."""

from pathlib import Path

import pytest

from tests.faults.storm import Storm
from tests.support.broker import needs_mosquitto


@needs_mosquitto
@pytest.mark.broker
@pytest.mark.slow
def test_every_pair_is_there_once_after_one_fault_of_each_kind(tmp_path: Path) -> None:
    storm = Storm(tmp_path, seed=5, hookups=8, duration_s=900.0, rate=80.0)
    try:
        storm.blow(len(storm.faults()), 0.3)
        report = storm.settle(40.0)
    finally:
        storm.stop()
    assert report.expected >= 6
    assert report.missing == []
    assert report.unexpected == []
