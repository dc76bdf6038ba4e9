"""The worker behind a three-node NATS cluster while nodes are killed; afterwards every pair is there exactly once.

    python -m tests.faults.cluster --hookups 8 --kills 6 --seed 1

The worker knows all three nodes and speaks MQTT 3.1.1, as NATS's gateway does; a store-and-forward gateway publishes to
one of them. Nodes die by kill -9 and come back: the worker's, the gateway's, the third one. What an undisturbed run
gives is computed first, from the same packs, by the pure pipeline alone.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import psutil
from tqdm import tqdm

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pairing import encoded
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.benchmarks.output import output
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import Made, one_device
from tests.support.gateway import Gateway
from tests.support.nats import Cluster, Node
from tests.support.waiting import came, worker_status

DURATION_S, PERIOD_S = 900.0, 5.0
DOWN_S = (0.5, 3.0)
"""A killed node stays away for so long, [s]."""


@dataclass
class Report:
    """What happened and how it ended."""

    seed: int
    hookups: int
    packs: int
    max_ack_pending: int
    expected: int = 0
    kills: Counter[str] = field(default_factory=Counter)
    missing: list[str] = field(default_factory=list)
    unexpected: list[str] = field(default_factory=list)
    worker_ended: int | None = None
    late_readings: int = 0
    sent_again: int = 0
    posts: int = 0
    took_s: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether every pair of the undisturbed run is there, once, and no other."""
        return not self.missing and not self.unexpected and self.worker_ended is None


def undisturbed(packs: list[Made], items: list[dict[str, object]]) -> set[str]:
    """Return the pairs of a run in which nothing fails."""
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup.from_json(item) for item in items])
    return {
        encoded(pair.as_json())
        for pack in packs
        for pair in pipeline.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
    }


class Run:
    """Three nodes, one worker, one gateway, one service."""

    def __init__(self, folder: Path, seed: int, hookups: int, rate: float, max_ack_pending: int = 1) -> None:
        self.folder, self.rng = folder, Random(seed)
        devices = [f"urn:dev:mac:0024beff{n:08x}" for n in range(hookups)]
        series = [one_device(name, seed * 1000 + n, DURATION_S, PERIOD_S) for n, name in enumerate(devices)]
        packs = [pack for row in zip(*series, strict=True) for pack in row]
        items = [hookup(n + 1, name) for n, name in enumerate(devices)]
        self.expected = undisturbed(packs, items)
        self.report = Report(seed, hookups, len(packs), max_ack_pending, len(self.expected))
        self.cluster = Cluster(folder, max_ack_pending=max_ack_pending).start()
        self.service = FakeService().start()
        self.service.hookups = items
        self.worker = self._start_worker()
        came(lambda: self._told("sessions") == hookups and self._told("connected"), 30.0)
        self.gateway = Gateway(self.cluster.nodes[1].port, packs, rate)
        self.gateway.start()

    def _start_worker(self) -> subprocess.Popen[bytes]:
        environ = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")} | {
            "HEELMARK_SERVICE_URL": self.service.url,
            "HEELMARK_WORKER_TOKEN": "t",
            "HEELMARK_MQTT_HOST": self.cluster.hosts,
            "HEELMARK_MQTT_VERSION": "3.1.1",
            "HEELMARK_WORKER_DATA": str(self.folder / "worker"),
        }
        with (self.folder / "worker.log").open("ab") as log:
            return subprocess.Popen([sys.executable, "-m", "ingest", "run"], env=environ, stderr=log)

    def _told(self, name: str) -> object:
        return worker_status(self.folder / "worker").get(name)

    def workers_node(self) -> Node | None:
        """Return the node that the worker is connected to, or None while it is between two."""
        ports = {link.raddr.port for link in psutil.Process(self.worker.pid).net_connections() if link.raddr}
        return next((node for node in self.cluster.nodes if node.port in ports), None)

    def node(self, which: str) -> Node:
        """Return the node of the worker, of the gateway, or one that is neither's."""
        gateways = self.cluster.nodes[1]
        if which == "gateway":
            return gateways
        came(self.workers_node, 30.0)
        workers = self.workers_node() or self.cluster.nodes[0]
        if which == "worker":
            return workers
        return next(node for node in self.cluster.nodes if node not in (gateways, workers))

    def kill(self, which: str) -> None:
        """Kill a node with -9, start it again after a while, and wait until it serves."""
        node = self.node(which)
        node.kill()
        self.report.kills[which] += 1
        time.sleep(self.rng.uniform(*DOWN_S))
        node.start()
        came(node.serves, 30.0)

    def settle(self, timeout_s: float) -> Report:
        """Let everything come to rest and compare with the undisturbed run."""
        report = self.report
        came(self.gateway.done.is_set, timeout_s)
        came(lambda: len(self.service.pairs) >= len(self.expected), timeout_s)
        time.sleep(2.5)
        found = [encoded(body) for body in self.service.pairs.values()]
        report.missing = sorted(self.expected - set(found))
        report.unexpected = sorted((Counter(found) - Counter(self.expected)).elements())
        report.worker_ended = self.worker.poll()
        report.posts, report.sent_again = len(self.service.posts), self.gateway.resent
        counts = self._told("counts")
        report.late_readings = counts.get("dropped:late", 0) if isinstance(counts, dict) else 0
        return report

    def stop(self) -> None:
        """End everything that was started."""
        self.gateway.stop()
        self.worker.kill()
        self.worker.wait()
        self.cluster.stop()
        self.service.stop()


def main() -> None:
    """Run from the command line and write the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hookups", type=int, default=8)
    parser.add_argument("--kills", type=int, default=6)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate", type=float, default=20.0, help="packs a second")
    parser.add_argument("--max-ack-pending", type=int, default=1)
    args = parser.parse_args()
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        run = Run(Path(folder), args.seed, args.hookups, args.rate, args.max_ack_pending)
        try:
            for number in tqdm(range(args.kills), desc="kills", disable=None):
                time.sleep(run.rng.uniform(1.0, 4.0))
                run.kill(("worker", "third", "gateway")[number % 3])
            report = run.settle(300.0)
        finally:
            run.stop()
    report.took_s = time.monotonic() - start
    told = {**report.__dict__, "whole": report.whole}
    output(f"cluster-{args.seed}.json").write_text(json.dumps(told, indent=1))
    print(json.dumps(told, indent=1))
    sys.exit(0 if report.whole else 1)


if __name__ == "__main__":
    main()
