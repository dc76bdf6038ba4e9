"""A small week: two vans, two days, everything that happens once. The whole one is `python -m tests.faults.week`."""

from pathlib import Path

import pytest

from tests.faults.processes import needs_postgres
from tests.faults.week import AMISS, Happenings, Lived
from tests.support.broker import needs_mosquitto


@needs_mosquitto
@needs_postgres
@pytest.mark.broker
@pytest.mark.postgres
@pytest.mark.slow
@pytest.mark.timeout(400)
def test_every_pair_is_there_once_and_every_alarm_was_raised(tmp_path: Path) -> None:
    lived = Lived(tmp_path, seed=3, vans=2, days=2, playing_s=15.0)
    try:
        lived.live(rounds=1, playing_s=15.0)
        told = lived.report(120.0)
        assert set(told["happened"]) == set(Happenings(lived.stage, lived.rng).kinds())
    finally:
        lived.stage.end()
    assert told["pairs"] >= 4
    assert told["alarms"] >= 4
    assert {name: told[name] for name in AMISS} == {name: [] for name in AMISS}
