"""Four workers on one broker, each the owner of its place; `python -m tests.benchmarks.ingest_share` tells the cost."""

from pathlib import Path

import pytest

from tests.benchmarks.ingest_share import PLACES, Fleet, run
from tests.support.broker import needs_mosquitto


@needs_mosquitto
@pytest.mark.broker
@pytest.mark.slow
def test_four_workers_own_their_places_keep_the_order_and_post_every_pair_once(tmp_path: Path) -> None:
    told = run(tmp_path, Fleet(hookups=8, packs_each=180), len(PLACES))
    assert told["faults"] == []
    assert told["pairs"] == 8
