"""One, two and four workers that share four places on one broker: who owns what, order, pairs, and the cost of it.

    python -m tests.benchmarks.ingest_share --workers 1 2 4 --hookups 24 --packs-each 240

Every worker owns its places alone. Afterwards each pack is in exactly one inbox, that of its place's owner, each
device's packs in the order in which they were published, and the pairs are those of one undisturbed pipeline.
"""

from __future__ import annotations

import argparse
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import psutil
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion
from tqdm import tqdm

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pairing import encoded
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.benchmarks.ingest_rate import bare_loop, publish, subscribe
from tests.benchmarks.output import output
from tests.support.broker import Broker
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import Made, one_device
from tests.support.waiting import came, worker_status

PLACES = ("shop", "van-1", "van-2", "yard")
LONGEST_S = 300.0


class Fleet:
    """Packs of devices spread over the places, and what one undisturbed pipeline makes of them."""

    def __init__(self, hookups: int, packs_each: int) -> None:
        self.devices = [f"urn:dev:mac:0024beff{n:08x}" for n in range(hookups)]
        self.place = {name: PLACES[n % len(PLACES)] for n, name in enumerate(self.devices)}
        bar = tqdm(self.devices, desc="simulate", disable=None)
        series = [one_device(name, n, packs_each * 5.0, 5.0) for n, name in enumerate(bar)]
        self.packs: list[Made] = [pack for row in zip(*series, strict=True) for pack in row]
        self.items = [hookup(n + 1, name, place=self.place[name]) for n, name in enumerate(self.devices)]
        pipeline = Pipeline(SettlingSettings())
        pipeline.attach([Hookup.from_json(item) for item in self.items])
        self.expected = Counter(
            encoded(pair.as_json())
            for pack in self.packs
            for pair in pipeline.take(self.place[pack.device], pack.device, pack.payload, pack.stamp_s + 0.3)
        )


class Shared:
    """So many workers on one broker, each the owner of its places.

    Parameters
    ----------
    folder : Path
        Where their files go.
    fleet : Fleet
        What is published.
    count : int
        How many workers.
    """

    def __init__(self, folder: Path, fleet: Fleet, count: int) -> None:
        self.folder, self.fleet = folder, fleet
        self.owned = [PLACES[number::count] for number in range(count)]
        self.broker, self.service = Broker(folder / "broker").start(), FakeService().start()
        self.service.hookups = fleet.items
        self.workers = [self._worker(number) for number in range(count)]

    def _worker(self, number: int) -> subprocess.Popen[bytes]:
        environ = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")} | {
            "HEELMARK_SERVICE_URL": self.service.url,
            "HEELMARK_WORKER_TOKEN": "t",
            "HEELMARK_MQTT_PORT": str(self.broker.port),
            "HEELMARK_PLACES": ",".join(self.owned[number]),
            "HEELMARK_WORKER_DATA": str(self.folder / f"worker-{number}"),
        }
        return subprocess.Popen(
            [sys.executable, "-m", "ingest", "run"], env=environ, stderr=subprocess.DEVNULL
        )

    def statuses(self) -> list[dict[str, object]]:
        """Return what each worker last told of itself; empty before it does."""
        return [worker_status(self.folder / f"worker-{number}") for number in range(len(self.workers))]

    def ready(self) -> bool:
        """Whether every worker is connected and follows its hookups."""
        statuses = self.statuses()
        sessions = sum(int(str(status.get("sessions", 0))) for status in statuses)
        return all(status.get("connected") for status in statuses) and sessions == len(self.fleet.items)

    def inboxes(self) -> list[list[tuple[str, str, bytes]]]:
        """Return place, device and payload of every pack, for each worker in the order of its inbox."""
        rows = []
        for number in range(len(self.workers)):
            with sqlite3.connect(self.folder / f"worker-{number}" / "worker.sqlite", timeout=5.0) as db:
                rows.append(db.execute("SELECT place, device, payload FROM inbox ORDER BY seq").fetchall())
            db.close()
        return rows

    def cpu_s(self) -> float:
        """Return the processor time that the workers have used, [s]."""
        times = [psutil.Process(worker.pid).cpu_times() for worker in self.workers]
        return sum(one.user + one.system for one in times)

    def publish(self) -> None:
        """Publish every pack on the topic of its place, in order."""
        client = paho.Client(CallbackAPIVersion.VERSION2, client_id="gateway")
        client.max_inflight_messages_set(1000)
        client.max_queued_messages_set(0)
        client.connect("127.0.0.1", self.broker.port)
        client.loop_start()
        place = self.fleet.place
        sent = [
            client.publish(f"heelmark/{place[pack.device]}/readings/{pack.device}", pack.payload, qos=1)
            for pack in self.fleet.packs
        ]
        for message in sent:
            message.wait_for_publish(60)
        client.disconnect()
        client.loop_stop()

    def taken(self) -> int:
        """Return how many packs are in the inboxes."""
        return sum(len(rows) for rows in self.inboxes())

    def stop(self) -> None:
        """End everything that was started."""
        for worker in self.workers:
            worker.kill()
            worker.wait()
        self.broker.kill()
        self.service.stop()


def faults(fleet: Fleet, shared: Shared) -> list[str]:
    """Return everything that is not as it should be; nothing if all is well."""
    found = []
    inboxes = shared.inboxes()
    for number, rows in enumerate(inboxes):
        found += [f"worker {number} took {place}" for place, *_ in rows if place not in shared.owned[number]]
    kept = of_devices(row for rows in inboxes for row in rows)
    sent = of_devices((fleet.place[pack.device], pack.device, pack.payload) for pack in fleet.packs)
    found += [
        f"{name}: lost, doubled or out of order" for name in fleet.devices if kept.get(name) != sent[name]
    ]
    pairs = Counter(encoded(body) for body in shared.service.pairs.values())
    found += [f"missing {pair}" for pair in (fleet.expected - pairs).elements()]
    found += [f"unexpected {pair}" for pair in (pairs - fleet.expected).elements()]
    return found


def of_devices(rows: Iterable[tuple[str, str, bytes]]) -> dict[str, list[bytes]]:
    """Return the payloads of each device in order."""
    payloads: dict[str, list[bytes]] = {}
    for _, device, payload in rows:
        payloads.setdefault(device, []).append(payload)
    return payloads


def run(folder: Path, fleet: Fleet, count: int) -> dict[str, object]:
    """Have so many workers take the fleet's packs; returns figures and faults."""
    shared = Shared(folder, fleet, count)
    try:
        came(shared.ready, 30.0)
        used, start = shared.cpu_s(), time.perf_counter()
        shared.publish()
        came(lambda: shared.taken() >= len(fleet.packs), LONGEST_S)
        took_s = time.perf_counter() - start
        used = shared.cpu_s() - used
        came(lambda: len(shared.service.pairs) >= fleet.expected.total(), 30.0)
        found = faults(fleet, shared)
    finally:
        shared.stop()
    each_us = 1e6 * used / len(fleet.packs)
    return {
        "workers": count,
        "packs_per_s": round(len(fleet.packs) / took_s),
        "cpu_us_a_pack": round(each_us, 1),
        "pairs": fleet.expected.total(),
        "faults": found[:20],
    }


def main() -> None:
    """Run from the command line and write the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2, 4])
    parser.add_argument("--hookups", type=int, default=24)
    parser.add_argument("--packs-each", type=int, default=240)
    args = parser.parse_args()
    fleet = Fleet(args.hookups, args.packs_each)
    with tempfile.TemporaryDirectory() as name:
        broker = Broker(Path(name) / "bare").start()
        subscribe(broker.port, "bare")
        publish(broker.port, fleet.packs)
        bare_rate, bare_us = bare_loop(broker.port, len(fleet.packs))
        broker.kill()
        rows = [run(Path(name) / str(count), fleet, count) for count in args.workers]
    report = {"packs": len(fleet.packs), "bare_messages_per_s": bare_rate, "bare_us": bare_us, "runs": rows}
    for row in rows:
        row["ratio_by_cpu"] = round(bare_us / float(str(row["cpu_us_a_pack"])), 3)
        print(row)
    output("ingest-share.json").write_text(json.dumps(report, indent=1))
    sys.exit(1 if any(row["faults"] for row in rows) else 0)


if __name__ == "__main__":
    main()
