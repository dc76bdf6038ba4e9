"""A seeded storm of faults over a fleet of hookups; afterwards every pair is at the service exactly once.

    python -m tests.faults.storm --faults 200 --hookups 30 --seed 1

What an undisturbed run gives is computed first, from the same packs, by the pure pipeline alone.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tqdm import tqdm

from ingest.hookup import Hookup
from ingest.pairing import encoded
from ingest.pipeline import Pipeline
from ingest.settling import SettlingSettings
from tests.support.broker import Broker
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import Made, one_device
from tests.support.gateway import Gateway
from tests.support.proxy import Proxy

OUT = Path(__file__).parents[1] / "benchmarks" / "out"


@dataclass
class Report:
    """What happened and how it ended."""

    seed: int
    hookups: int
    packs: int
    expected: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    missing: list[str] = field(default_factory=list)
    unexpected: list[str] = field(default_factory=list)
    own_ends: list[int] = field(default_factory=list)
    outbox: dict[str, int] = field(default_factory=dict)
    posts: int = 0
    resent: int = 0
    took_s: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether every pair of the undisturbed run is there, once, and no other."""
        return not self.missing and not self.unexpected


class Storm:
    """Broker, worker, service and gateway with a proxy on every link."""

    def __init__(self, folder: Path, seed: int, hookups: int, duration_s: float, rate: float) -> None:
        self.folder, self.rng = folder, Random(seed)
        devices = [f"urn:dev:mac:0024beff{n:08x}" for n in range(hookups)]
        series = [one_device(name, seed * 1000 + n, duration_s, 5.0) for n, name in enumerate(devices)]
        self.packs: list[Made] = [pack for row in zip(*series, strict=True) for pack in row]
        self.items = [hookup(n + 1, name) for n, name in enumerate(devices)]
        self.report = Report(seed, hookups, len(self.packs))
        self.expected = self._undisturbed()
        self.report.expected = len(self.expected)
        self.broker = Broker(folder / "broker", persistent=True).start()
        self.service = FakeService().start()
        self.service.hookups = self.items
        self.to_broker, self.to_service = (Proxy(self.broker.port).start(), Proxy(self.service.port).start())
        self.from_gateway = Proxy(self.broker.port).start()
        self.worker = self._start_worker()
        self._wait(lambda: self._status().get("sessions") == hookups and self._status().get("connected"))
        self.gateway = Gateway(self.from_gateway.port, self.packs, rate)
        self.gateway.start()

    def _undisturbed(self) -> set[str]:
        pipeline = Pipeline(SettlingSettings())
        pipeline.attach([Hookup.from_json(item) for item in self.items])
        pairs = set()
        for pack in self.packs:
            for pair in pipeline.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3):
                pairs.add(encoded(pair.as_json()))
        return pairs

    def _start_worker(self) -> subprocess.Popen[bytes]:
        environ = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")} | {
            "HEELMARK_SERVICE_URL": f"http://127.0.0.1:{self.to_service.port}",
            "HEELMARK_WORKER_TOKEN": "t",
            "HEELMARK_MQTT_PORT": str(self.to_broker.port),
            "HEELMARK_WORKER_DATA": str(self.folder / "worker"),
        }
        log = (self.folder / "worker.log").open("ab")
        with log:
            return subprocess.Popen([sys.executable, "-m", "ingest", "run"], env=environ, stderr=log)

    def _status(self) -> dict[str, object]:
        try:
            status: dict[str, object] = json.loads((self.folder / "worker" / "status.json").read_text())
            return status
        except (OSError, ValueError):
            return {}

    def _wait(self, what: Callable[[], object], timeout_s: float = 30.0) -> bool:
        deadline = time.monotonic() + timeout_s
        while time.monotonic() < deadline:
            if what():
                return True
            time.sleep(0.05)
        return False

    def faults(self) -> dict[str, Callable[[], None]]:
        """Every fault by name."""
        return {
            "worker killed": self.worker_killed,
            "worker frozen": self.worker_frozen,
            "broker killed": self.broker_killed,
            "service down": self.service_down,
            "service failing": self.service_failing,
            "worker cut from broker": lambda: self.to_broker.cut(),
            "worker held from broker": lambda: self._held(self.to_broker),
            "gateway cut from broker": lambda: self.from_gateway.cut(),
            "gateway held from broker": lambda: self._held(self.from_gateway),
            "worker cut from service": lambda: self.to_service.cut(),
            "worker held from service": lambda: self._held(self.to_service),
            "inbox locked": self.inbox_locked,
        }

    def worker_killed(self) -> None:
        """Kill -9 the worker and start it again."""
        self.worker.kill()
        self.worker.wait()
        self.worker = self._start_worker()

    def worker_frozen(self) -> None:
        """Stop the worker with SIGSTOP for a while."""
        self.worker.send_signal(signal.SIGSTOP)
        time.sleep(self.rng.uniform(0.3, 2.0))
        self.worker.send_signal(signal.SIGCONT)

    def broker_killed(self) -> None:
        """Kill -9 the broker and start it again on what it had saved."""
        time.sleep(1.1)
        self.broker.kill()
        time.sleep(self.rng.uniform(0.1, 0.8))
        self.broker.start()

    def service_down(self) -> None:
        """Refuse every connection to the service for a while."""
        self.to_service.refuse(True)
        time.sleep(self.rng.uniform(0.3, 1.5))
        self.to_service.refuse(False)

    def service_failing(self) -> None:
        """Have the service answer the next posts with errors of every kind that passes."""
        self.service.script += self.rng.choices([500, 502, 503, 429, 401], k=2)

    def _held(self, proxy: Proxy) -> None:
        proxy.hold(True)
        time.sleep(self.rng.uniform(0.3, 2.0))
        proxy.hold(False)

    def inbox_locked(self) -> None:
        """Hold the worker's file locked, as a full disk would keep it from being written."""
        with sqlite3.connect(self.folder / "worker" / "worker.sqlite", timeout=1.0) as other:
            try:
                other.execute("BEGIN IMMEDIATE")
                time.sleep(self.rng.uniform(0.3, 1.0))
            except sqlite3.OperationalError:
                return
            finally:
                other.rollback()
        other.close()

    def blow(self, count: int, pause_s: float) -> None:
        """Bring on so many faults, each kind in turn and in a random order."""
        kinds = self.faults()
        start = time.monotonic()
        names: list[str] = []
        for _ in tqdm(range(count), desc="faults", disable=None):
            if not names:
                names = self.rng.sample(sorted(kinds), len(kinds))
            name = names.pop()
            kinds[name]()
            self.report.faults[name] += 1
            time.sleep(self.rng.uniform(0.2, 1.0) * pause_s)
            self._supervise()
        self.report.took_s = time.monotonic() - start

    def _supervise(self) -> None:
        """Start a worker that has ended by itself again, as any supervisor would, and say so in the report."""
        if self.worker.poll() is not None:
            self.report.own_ends.append(self.worker.returncode)
            self.worker = self._start_worker()

    def settle(self, timeout_s: float) -> Report:
        """Let everything come to rest and compare with the undisturbed run."""
        self._wait(self.gateway.done.is_set, timeout_s)
        self._supervise()
        self._wait(lambda: len(self.service.pairs) >= len(self.expected), timeout_s)
        time.sleep(1.0)
        found = [encoded(body) for body in self.service.pairs.values()]
        self.report.missing = sorted(self.expected - set(found))
        self.report.unexpected = sorted((Counter(found) - Counter(self.expected)).elements())
        outbox = self._status().get("outbox")
        self.report.outbox = outbox if isinstance(outbox, dict) else {}
        self.report.posts, self.report.resent = len(self.service.posts), self.gateway.resent
        return self.report

    def stop(self) -> None:
        """End everything that was started."""
        self.gateway.stop()
        self.worker.kill()
        self.worker.wait()
        for proxy in (self.to_broker, self.to_service, self.from_gateway):
            proxy.stop()
        self.broker.kill()
        self.service.stop()


def main() -> None:
    """Run a storm from the command line and write its report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=200)
    parser.add_argument("--hookups", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rate", type=float, default=60.0, help="packs a second")
    parser.add_argument("--pause", type=float, default=1.0)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        storm = Storm(Path(folder), args.seed, args.hookups, 1500.0, args.rate)
        try:
            storm.blow(args.faults, args.pause)
            report = storm.settle(300.0)
        finally:
            storm.stop()
    OUT.mkdir(exist_ok=True)
    told = {**report.__dict__, "whole": report.whole}
    (OUT / f"storm-{args.seed}.json").write_text(json.dumps(told, indent=1))
    print(json.dumps(told, indent=1))
    sys.exit(0 if report.whole else 1)


if __name__ == "__main__":
    main()
