"""How long a standby with the same identity takes to take over, until its first stored reading.

    python -m tests.benchmarks.ingest_takeover --times 20 --hookups 30

A waiting standby (`HEELMARK_WORKER_STANDBY`) is timed from when the owner is killed with -9 or hangs (SIGSTOP); one
that is started only then, from its start, the interpreter's included. An owner that is alive is replaced by force, on
this host (one data folder) or on another (a folder of its own: only the broker can tell the old owner).
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion
from tqdm import tqdm

from tests.benchmarks.output import output
from tests.support.broker import Broker
from tests.support.fake_service import FakeService, hookup

LONGEST_S = 30.0
MODES = (
    "killed, standby waiting",
    "hung, standby waiting",
    "killed, standby started then",
    "alive, standby started",
    "alive on another host, standby started",
)
OLD_S, YOUNG_S = 11.0, 2.0
"""How long an owner works before it is replaced: on another host longer than the worker's ten seconds, [s]."""


class Feed(threading.Thread):
    """A gateway that publishes one pack after the other, each device in turn, at a steady rate."""

    def __init__(self, port: int, devices: list[str], rate: float) -> None:
        super().__init__(daemon=True)
        self.devices, self.pause_s = devices, 1.0 / rate
        self.stopping = threading.Event()
        self.client = paho.Client(CallbackAPIVersion.VERSION2, client_id="feed")
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def run(self) -> None:
        """Publish until told to stop."""
        number = 0
        while not self.stopping.wait(self.pause_s):
            device = self.devices[number % len(self.devices)]
            number += 1
            pack = [
                {
                    "bn": f"{device}:",
                    "bt": time.time(),
                    "n": "gauge-pressure",
                    "u": "Pa",
                    "v": 8e5 + number % 7,
                },
                {"n": "wall-temperature", "u": "Cel", "v": 21.0 + 0.01 * (number % 5)},
            ]
            self.client.publish(f"heelmark/shop/readings/{device}", json.dumps(pack), qos=1)
        self.client.loop_stop()


class Bench:
    """Broker, service, feed, and workers that follow one another as the owner of one place."""

    def __init__(self, folder: Path, hookups: int, rate: float) -> None:
        self.folder = folder
        self.started: list[subprocess.Popen[bytes]] = []
        self.broker, self.service = Broker(folder / "broker").start(), FakeService().start()
        devices = [f"urn:dev:mac:0024beff{n:08x}" for n in range(hookups)]
        self.service.hookups = [hookup(n + 1, name) for n, name in enumerate(devices)]
        self.feed = Feed(self.broker.port, devices, rate)
        self.feed.start()
        self.data = folder / "worker-0"
        self.owner = self.worker(self.data)

    def worker(self, data: Path, *, standby: bool = False) -> subprocess.Popen[bytes]:
        """Start a worker with the one identity."""
        environ = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")} | {
            "HEELMARK_SERVICE_URL": self.service.url,
            "HEELMARK_WORKER_TOKEN": "t",
            "HEELMARK_MQTT_PORT": str(self.broker.port),
            "HEELMARK_PLACES": "shop",
            "HEELMARK_WORKER_DATA": str(data),
            "HEELMARK_WORKER_STANDBY": str(standby).lower(),
        }
        with (self.folder / "log").open("ab") as log:
            process = subprocess.Popen([sys.executable, "-m", "ingest", "run"], env=environ, stderr=log)
        self.started.append(process)
        return process

    def where(self, data: Path) -> tuple[int, int]:
        """Return how often the worker's file was opened and how many packs it has ever stored."""
        try:
            with sqlite3.connect(f"file:{data / 'worker.sqlite'}?mode=ro", uri=True, timeout=1.0) as db:
                (epoch,) = db.execute("SELECT value FROM fact WHERE name = 'epoch'").fetchone()
                (seq,) = db.execute("SELECT coalesce(max(seq), 0) FROM inbox").fetchone()
        except (sqlite3.Error, TypeError):
            return 0, 0
        return int(epoch), int(seq)

    def standing_by(self) -> int:
        """Return how many standbys have said that they are ready."""
        return (self.folder / "log").read_text().count("worker.standing_by")

    def take_over(self, mode: str, number: int) -> dict[str, float]:
        """Have a standby take over from the owner; returns when what happened, [s]."""
        elsewhere, waits = "another host" in mode, "waiting" in mode
        data = self.folder / f"worker-{number}" if elsewhere else self.data
        ready = self.standing_by()
        standby = self.worker(data, standby=True) if waits else None
        until(lambda: not waits or self.standing_by() > ready, time.monotonic())
        time.sleep(OLD_S if elsewhere else YOUNG_S)
        before = self.where(data)[0]
        start = time.monotonic()
        if mode.startswith("killed"):
            self.owner.kill()
        elif mode.startswith("hung"):
            self.owner.send_signal(signal.SIGSTOP)
        standby = standby or self.worker(data)
        opened_seq = -1

        def opened() -> bool:
            nonlocal opened_seq
            epoch, opened_seq = self.where(data)
            return epoch > before

        told = {"opened": until(opened, start)}
        told["stored"] = until(lambda: self.where(data)[1] > opened_seq, start)
        told["old owner ended"] = until(lambda: self.owner.poll() is not None, start)
        told["old owner's code"] = float(self.owner.wait(10))
        time.sleep(1.0)
        if standby.poll() is not None:
            raise RuntimeError(f"the standby ended with {standby.returncode}")
        self.owner, self.data = standby, data
        return told

    def stop(self) -> None:
        """End everything that was started."""
        self.feed.stopping.set()
        self.feed.join(5)
        for process in self.started:
            process.kill()
            process.wait()
        self.broker.kill()
        self.service.stop()


def until(what: Callable[[], bool], start: float) -> float:
    """Wait for something; returns the time since `start`, [s]."""
    while not what():
        if time.monotonic() - start > LONGEST_S:
            raise RuntimeError("waited in vain")
        time.sleep(0.005)
    return time.monotonic() - start


def spread(values: list[float]) -> dict[str, float]:
    """Return a distribution in five numbers."""
    ordered = sorted(values)
    return {
        "least": round(ordered[0], 2),
        "median": round(statistics.median(ordered), 2),
        "90 %": round(ordered[min(len(ordered) - 1, int(0.9 * len(ordered)))], 2),
        "most": round(ordered[-1], 2),
    }


def main() -> None:
    """Run from the command line and write the distributions."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=20)
    parser.add_argument("--hookups", type=int, default=30)
    parser.add_argument("--rate", type=float, default=50.0, help="packs a second")
    parser.add_argument(
        "--stable", type=float, default=11.0, help="how long an owner works before the next, [s]"
    )
    args = parser.parse_args()
    report: dict[str, object] = {"times": args.times, "hookups": args.hookups, "packs_per_s": args.rate}
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), args.hookups, args.rate)
        try:
            until(lambda: bench.where(bench.data)[1] > 2 * args.hookups, time.monotonic())
            for mode in MODES:
                told = []
                times = max(1, args.times // 4) if "another host" in mode else args.times
                for number in tqdm(range(times), desc=mode, disable=None):
                    told.append(bench.take_over(mode, number + 1))
                report[mode] = {name: spread([one[name] for one in told]) for name in told[0]}
                print(mode, json.dumps(report[mode]), flush=True)
        finally:
            bench.stop()
    output("ingest-takeover.json").write_text(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
