"""The worker behind three NATS nodes, two of which die. The long run is `python -m tests.faults.cluster`."""

from pathlib import Path

import pytest

from tests.faults.cluster import Run
from tests.support.nats import needs_nats


@needs_nats
@pytest.mark.broker
@pytest.mark.slow
def test_every_pair_is_there_once_after_the_workers_node_and_another_have_died(tmp_path: Path) -> None:
    run = Run(tmp_path, seed=3, hookups=3, rate=25.0)
    try:
        first = run.node("worker")
        run.kill("worker")
        assert run.node("worker") is not first
        run.kill("gateway")
        report = run.settle(30.0)
    finally:
        run.stop()
    assert report.expected == 3
    assert report.missing == []
    assert report.unexpected == []
    assert report.worker_ended is None
