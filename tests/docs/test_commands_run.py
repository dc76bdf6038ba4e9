"""
Every command that a page names does its work, small, and ends well: ``RUN_COMMANDS=1`` runs them, half an hour of it.

``--help`` is all that a run of every day tries; a bench that nobody starts breaks behind it.
"""

import os
import subprocess
import sys

import pytest

from tests.docs.source import ROOT
from tests.docs.test_commands import COMMANDS

SMALL = {
    "tests.benchmarks.at_the_cylinder": "--wall 20",
    "tests.benchmarks.board": "--cylinders 20 --streams 4",
    "tests.benchmarks.boiling": "--runs 2",
    "tests.benchmarks.detection_limits": "--draws 500",
    "tests.benchmarks.fleet": "--sizes 30",
    "tests.benchmarks.growth": "--cylinders 2 --days 5 --pairs 2",
    "tests.benchmarks.ingest_rate": "--packs 400 --hookups 4",
    "tests.benchmarks.ingest_scale": "--sizes 20 --packs-each 3",
    "tests.benchmarks.ingest_share": "--workers 1 2 --hookups 4 --packs-each 20",
    "tests.benchmarks.ingest_takeover": "--times 2 --hookups 4",
    "tests.benchmarks.instruments": "--years 1 --pairs 30 --cylinders 4",
    "tests.benchmarks.look_alikes": "--contents 3",
    "tests.benchmarks.measured_uncertainty": "",
    "tests.benchmarks.next_measurements": "--cylinders 3",
    "tests.benchmarks.oil_prior": "--each 1",
    "tests.benchmarks.rules_compared": "--cylinders 300",
    "tests.benchmarks.serving": "--seconds 2 --clients 2 --rate 10",
    "tests.benchmarks.settling": "--runs 2 --sets A",
    "tests.benchmarks.settling_picture": "",
    "tests.benchmarks.settling_time_left": "--runs 1",
    "tests.benchmarks.truth_machine": "--cylinders 6 --designations 4 --no-exact",
    "tests.benchmarks.verdict_speed": "--rounds 4 --sample 4",
    "tests.benchmarks.voices": "--cylinders 2",
    "tests.benchmarks.webhooks": "--events 40 --round-trip-s 0.01",
    "tests.faults.cluster": "--hookups 3 --kills 1",
    "tests.faults.fuzz": "--packs 2000",
    "tests.faults.power": "--losses 2 --hookups 4",
    "tests.faults.storm": "--faults 4 --hookups 6",
    "tests.faults.week": "--vans 2 --days 1 --rounds 1 --minutes 1",
    "tests.mutation": "service/outbound/backoff.py --sample 1 --minutes 1",
    "tests.support.msgids": "",
    "tests.support.property_examples": "",
}
ELSEWHERE = {
    "demo": "acceptance/test_demo.py",
    "ingest": "the ingest tests start it by each of its commands",
    "tests.browser.screenshots": "minutes of pictures, looked at by a person",
    "tests.benchmarks.truth_field": "properties/test_field_data_round_trip.py gives it what a service exported",
    "tests.containers.standins": "containers: RUN_CONTAINERS=1",
}


def test_every_named_command_has_a_small_run():
    assert set(COMMANDS) - set(SMALL) - set(ELSEWHERE) == set()


@pytest.mark.skipif("RUN_COMMANDS" not in os.environ, reason="RUN_COMMANDS=1 runs them: half an hour")
@pytest.mark.timeout(960)
@pytest.mark.parametrize("module", SMALL)
def test_a_named_command_does_its_work(module: str) -> None:
    command = [sys.executable, "-m", module, *SMALL[module].split()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=900, cwd=ROOT)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-4000:]
