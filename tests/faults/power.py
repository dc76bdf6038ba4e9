"""Losses of power under the worker, the service and PostgreSQL; nothing acknowledged is lost, nothing doubled.

    python -m tests.faults.power --losses 40 --hookups 40 --seed 1

First the stage of the storm (`tests.faults.storm`), with losses of power alone: every pair of the undisturbed run is in
the database once. Then the service over SQLite on a disk of its own: whatever it answered 201 is there, once, and so is
what was sent again under its key because no answer came. The report goes to tests/benchmarks/out/.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path
from random import Random

import requests
from tqdm import tqdm

from tests.benchmarks.output import output
from tests.faults.disk import Disk
from tests.faults.processes import MachineTime, Service, wait_for
from tests.faults.storm import A_FAULT_S, Report, Storm, written
from tests.faults.wrongs import Wrongs

DISK_MB = 120
WRITERS = 4


def storm_of_losses(folder: Path, seed: int, hookups: int, losses: int, timeout_s: float) -> Report:
    """Cut the power of worker and PostgreSQL in turn while readings come in; return what was left of every pair."""
    playing_s = A_FAULT_S * losses + 20.0
    storm = Storm(folder, seed, hookups, playing_s, playing_s)
    try:
        wrongs = Wrongs(storm.stage, storm.rng)
        kinds, begun_s = list(wrongs.losses_of_power().items()), time.monotonic()
        for number in tqdm(range(losses), desc="losses of power", disable=None):
            name, lose = kinds[number % len(kinds)]
            threading.Event().wait(storm.rng.uniform(0.2, 2.0))
            lose()
            storm.report.faults[name] += 1
            storm.supervise()
        storm.report.took_s = time.monotonic() - begun_s
        return storm.settle(timeout_s)
    finally:
        storm.stage.end()


class Writers:
    """Technicians who write down places, each until it is answered 201, again under the same key where nothing came."""

    def __init__(self, service: Service) -> None:
        self.service, self.stopping = service, threading.Event()
        self.acknowledged: set[str] = set()
        self.refused: list[str] = []
        self._threads = [threading.Thread(target=self._write, args=(number,)) for number in range(WRITERS)]
        for thread in self._threads:
            thread.start()

    def _write(self, writer: int) -> None:
        url = f"http://127.0.0.1:{self.service.port}/api/v1/places"
        number = 0
        while not self.stopping.is_set():
            name = f"van-{writer}-{number}"
            headers = {
                "Authorization": f"Bearer {self.service.tokens['supervisor']}",
                "Idempotency-Key": f"key of {name}",
            }
            try:
                answer = requests.post(url, json={"name": name, "kind": "van"}, headers=headers, timeout=5)
            except requests.RequestException:
                self.stopping.wait(0.02)
                continue
            if answer.status_code == 201:
                self.acknowledged.add(name)
                number += 1
            elif answer.status_code < 500 and answer.status_code not in (409, 429):
                self.refused.append(f"{answer.status_code} {answer.text[:200]}")
                return
            else:
                self.stopping.wait(0.02)

    def stop(self) -> None:
        """Let each finish what it is at."""
        self.stopping.set()
        for thread in self._threads:
            thread.join(30)


def places_of(service: Service) -> list[str]:
    """The names of every place, as often as they are there."""
    names, path = list[str](), "/places?limit=200"
    while path:
        page = service.call("GET", path, "reader")
        names += [place["name"] for place in page["items"]]
        path = f"/places?limit=200&after={page['next']}" if page.get("next") else ""
    return names


def service_on_sqlite(folder: Path, seed: int, losses: int) -> dict[str, object]:
    """Cut the power of a service over SQLite while it is written to; what became of everything that it acknowledged."""
    disk, rng = Disk(folder / "service", DISK_MB), Random(seed)
    if not disk.is_own:
        raise SystemExit("only root can mount a disk of its own")
    url = f"sqlite:///{disk.folder / 'heelmark.sqlite'}"
    service = Service(folder, url, url, MachineTime(folder / "service.clock"))
    service.start()
    assert wait_for(service.ready, 60.0), "the service did not start"
    writers = Writers(service)
    try:
        for _ in tqdm(range(losses), desc="losses of power under SQLite", disable=None):
            so_far = len(writers.acknowledged)
            wait_for(lambda so_far=so_far: len(writers.acknowledged) >= so_far + 8, 30.0)
            threading.Event().wait(rng.uniform(0.0, 0.5))
            disk.lose_power(lambda: service.signal(signal.SIGSTOP), service.kill)
            service.start()
            assert wait_for(service.ready, 60.0), "the service did not start again"
        writers.stop()
        found = places_of(service)
    finally:
        writers.stop()
        service.kill()
        disk.remove()
    return {
        "losses": losses,
        "acknowledged": len(writers.acknowledged),
        "lost": sorted(writers.acknowledged - set(found)),
        "doubled": sorted({name for name in found if found.count(name) > 1}),
        "refused": writers.refused,
    }


def main() -> None:
    """Run from the command line and write the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--losses", type=int, default=40)
    parser.add_argument("--hookups", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: sys.exit(130))
    with tempfile.TemporaryDirectory() as scratch:
        for name in ("storm", "sqlite"):
            (Path(scratch) / name).mkdir()
        report = storm_of_losses(Path(scratch) / "storm", args.seed, args.hookups, args.losses, 600.0)
        service = service_on_sqlite(Path(scratch) / "sqlite", args.seed, args.losses)
    whole = report.whole and not (service["lost"] or service["doubled"] or service["refused"])
    told = written(report) + f"\nThe service over SQLite: {json.dumps(service)}\n"
    output(f"power-{args.seed}.md").write_text(told)
    print(told)
    sys.exit(0 if whole else 1)


if __name__ == "__main__":
    main()
