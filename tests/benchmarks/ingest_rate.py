"""Readings a second from broker to inbox, settling and live values, beside the bare paho loop of the same run.

    python -m tests.benchmarks.ingest_rate --packs 20000 --hookups 200

Both drain the same backlog of QoS 1 messages from a persistent session; the bare loop only acknowledges.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion
from tqdm import tqdm

from tests.benchmarks.output import output
from tests.support.broker import Broker
from tests.support.fake_service import FakeService, hookup
from tests.support.feeding import Made, one_device

BARE = """
import sys, time, resource
from paho.mqtt import client as paho
port, count = int(sys.argv[1]), int(sys.argv[2])
seen = [0, 0.0]
def on_message(client, _userdata, message):
    if not seen[0]:
        seen[1] = time.perf_counter()
    seen[0] += 1
    client.ack(message.mid, message.qos)
    if seen[0] >= count:
        client.disconnect()
client = paho.Client(paho.CallbackAPIVersion.VERSION2, client_id="bare", clean_session=False, manual_ack=True)
client.on_message = on_message
client.connect("127.0.0.1", port)
client.loop_forever()
used = resource.getrusage(resource.RUSAGE_SELF)
print(count / (time.perf_counter() - seen[1]), 1e6 * (used.ru_utime + used.ru_stime) / count)
"""


def subscribe(port: int, client_id: str) -> None:
    """Open a persistent session that will collect the backlog."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id=client_id, clean_session=False)
    client.connect("127.0.0.1", port)
    client.subscribe("heelmark/+/readings/+", 1)
    client.loop_start()
    time.sleep(0.5)
    client.disconnect()
    client.loop_stop()


def publish(port: int, packs: list[Made]) -> None:
    """Publish the backlog."""
    client = paho.Client(CallbackAPIVersion.VERSION2, client_id="publisher")
    client.max_inflight_messages_set(1000)
    client.max_queued_messages_set(0)
    client.connect("127.0.0.1", port)
    client.loop_start()
    sent = [
        client.publish(f"heelmark/shop/readings/{pack.device}", pack.payload, qos=1)
        for pack in tqdm(packs, desc="publish", disable=None)
    ]
    for message in sent:
        message.wait_for_publish(60)
    client.disconnect()
    client.loop_stop()


def drained(folder: Path, count: int) -> float:
    """Wait until the worker has taken everything; returns the time of the first sign to the last, [s]."""
    first = 0.0
    bar = tqdm(total=count, desc="worker", disable=None)
    while True:
        try:
            status = json.loads((folder / "worker" / "status.json").read_text())
        except (OSError, ValueError):
            status = {}
        taken = status.get("counts", {}).get("packs", 0)
        bar.update(taken - bar.n)
        if taken and not first:
            first = status["at"]
        if taken >= count:
            bar.close()
            return float(status["at"]) - first
        time.sleep(0.05)


def start_cost_s() -> float:
    """Return the processor time of starting the interpreter and importing the worker, [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", "import ingest.runtime.wiring"], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def bare_loop(port: int, count: int) -> tuple[float, float]:
    """Drain with nothing but paho; returns messages a second and processor time of each [us]."""
    command = [sys.executable, "-c", BARE, str(port), str(count)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    rate, cpu_us = (float(x) for x in done.stdout.split())
    return rate, cpu_us


def worker(folder: Path, port: int, service_url: str, count: int) -> tuple[float, float]:
    """Drain with the whole worker; returns wall time and processor time of it all, [s]."""
    environ = {k: v for k, v in os.environ.items() if not k.startswith("HEELMARK_")} | {
        "HEELMARK_SERVICE_URL": service_url,
        "HEELMARK_WORKER_TOKEN": "t",
        "HEELMARK_MQTT_PORT": str(port),
        "HEELMARK_WORKER_DATA": str(folder / "worker"),
    }
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "ingest", "run"], env=environ, stderr=subprocess.DEVNULL
    )
    drained(folder, count)
    took_s = time.perf_counter() - start
    process.terminate()
    process.wait(20)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return took_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def figures(count: int, bare_rate: float, bare_us: float, took_s: float, used_s: float) -> dict[str, float]:
    """Return both drains side by side."""
    start_s = start_cost_s()
    worker_us = 1e6 * (used_s - start_s) / count
    return {
        "packs": count,
        "readings": 2 * count,
        "bare_messages_per_s": bare_rate,
        "bare_us": bare_us,
        "worker_packs_per_s_with_start": count / took_s,
        "worker_start_cpu_s": start_s,
        "worker_us_without_start": worker_us,
        "ratio_by_cpu": bare_us / worker_us,
        "ratio_by_rate": count / took_s / bare_rate,
    }


def main() -> None:
    """Run the benchmark from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--packs", type=int, default=20_000)
    parser.add_argument("--hookups", type=int, default=200)
    args = parser.parse_args()
    each = args.packs // args.hookups
    names = [f"urn:dev:mac:0024beff{n:08x}" for n in range(args.hookups)]
    bar = tqdm(names, desc="simulate", disable=None)
    series = [one_device(name, n, each * 5.0, 5.0) for n, name in enumerate(bar)]
    packs = [pack for row in zip(*series, strict=True) for pack in row]
    with tempfile.TemporaryDirectory() as name:
        broker, service = Broker(Path(name) / "broker").start(), FakeService().start()
        service.hookups = [hookup(n + 1, name) for n, name in enumerate(names)]
        try:
            for session in ("bare", "heelmark-ingest-all"):
                subscribe(broker.port, session)
            publish(broker.port, packs)
            bare_rate, bare_us = bare_loop(broker.port, len(packs))
            took_s, used_s = worker(Path(name), broker.port, service.url, len(packs))
        finally:
            broker.kill()
            service.stop()
    report = {"hookups": args.hookups, "pairs": len(service.pairs)}
    report |= figures(len(packs), bare_rate, bare_us, took_s, used_s)
    output("ingest-rate.json").write_text(json.dumps(report, indent=1))
    print(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
