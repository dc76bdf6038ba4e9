"""A week of forty vans in a few minutes: deaths, full disks, losses of power, upgrades and a restore.

    python -m tests.faults.week --vans 40 --days 7 --seed 1

Every van measures another of its cylinders each day; half of them are not what their label says. The readings carry the
times of a week that has just passed and are told as fast as the machine allows, to the real broker, worker, service and
PostgreSQL (`tests.faults.stage`). What must come of it is what the pure pipeline makes of the same packs, posted to a
second service that nothing happens to: each pair once, and every alarm. The report goes to tests/benchmarks/out/.
"""

from __future__ import annotations

import argparse
import json
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any, NoReturn

import requests
from tqdm import tqdm

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.wire.hookup import Hookup
from tests.benchmarks.output import output
from tests.faults.processes import BIN, MachineTime, Service, wait_for
from tests.faults.season import LASTS_S, Found, Pair, Season, in_database, of_body
from tests.faults.stage import Stage
from tests.faults.wrongs import Wrongs
from tests.support.feeding import Made, one_device

DAY_S, PERIOD_S = 86400.0, 10.0
WRONG_LABEL = "R-410A"
REST_S, LOST_S = 4.0, 60.0
"""So long nothing more may come when every pair is there, and while some are missing that nobody has to post, [s]."""
AMISS = ("pairs missing", "pairs unexpected or doubled", "alarms not raised", "alarms beside")
"""What a report has empty where all went well."""
Alarms = Counter[tuple[str, str]]


class Week(Season):
    """Packs of so many vans over so many days; each day another cylinder of each van gets a gauge and a clamp."""

    def __init__(self, seed: int, vans: int, days: int, playing_s: float) -> None:
        rng = Random(seed)
        self.devices = [f"urn:dev:ops:32473-van-{van}-{day}" for day in range(days) for van in range(vans)]
        self.start_s = time.time() - days * DAY_S - LASTS_S
        series = [
            one_device(name, seed * 1000 + number, LASTS_S, PERIOD_S, self._some_time_on(number // vans, rng))
            for number, name in enumerate(self.devices)
        ]
        self.packs: list[Made] = sorted(pack for packs in series for pack in packs)
        self.rate = len(self.packs) / playing_s

    def _some_time_on(self, day: int, rng: Random) -> float:
        return self.start_s + day * DAY_S + rng.uniform(0.0, 0.9) * DAY_S

    def register(self, service: Service) -> None:
        """Make the cylinders known, half of them with another refrigerant's label, and their hookups."""
        since = datetime.fromtimestamp(self.start_s - 60.0, UTC).isoformat()
        marks = {"marks": "DOT-4BA400", "water_capacity_kg": 21.6, "tare_kg": 12.7, "place": "shop"}
        for number, name in enumerate(self.devices):
            serial, claim = f"S-{number:04d}", "R-134a" if number % 2 else WRONG_LABEL
            cylinder = {"serial": serial, "claimed_designation": claim, **marks}
            service.call("POST", "/cylinders", "technician", json=cylinder)
            devices = {"pressure_device": name, "temperature_device": name}
            hookup = {"cylinder": serial, "valve": "vapour", "from": since, **devices}
            service.call("POST", "/hookups", "technician", json=hookup)

    def bodies(self, service: Service) -> list[dict[str, Any]]:
        """The pairs that an undisturbed worker posts, in order."""
        pipeline = Pipeline(SettlingSettings())
        pipeline.attach([Hookup.from_json(item) for item in pages(service, "/hookups?active=true", "worker")])
        assert len(pipeline.sessions) == len(self.devices)
        return [
            pair.as_json()
            for pack in self.packs
            for pair in pipeline.take("shop", pack.device, pack.payload, pack.stamp_s + 0.3)
        ]


def pages(service: Service, path: str, scope: str) -> list[dict[str, Any]]:
    """Every item of a list."""
    items, after = list[dict[str, Any]](), ""
    while True:
        page = service.call("GET", f"{path}&limit=200{after}", scope)
        items += page["items"]
        if not page.get("next"):
            return items
        after = f"&after={page['next']}"


def alarms_of(service: Service) -> Alarms:
    """Which alarms were ever raised of which cylinder."""
    listed = pages(service, "/alarms?open=false", "supervisor")
    return Counter((one["cylinder"], one["code"]) for one in listed if one.get("cylinder"))


def undisturbed(folder: Path, week: Week) -> tuple[Counter[Pair], Alarms]:
    """What must come of it: the pairs, and the alarms that a service raises to which nothing happens."""
    url = f"sqlite:///{folder / 'undisturbed.sqlite'}"
    service = Service(folder, url, url, MachineTime(folder / "undisturbed.clock"))
    service.start()
    try:
        assert wait_for(service.ready, 90.0), "the service did not start"
        week.register(service)
        bodies = week.bodies(service)
        headers = {"Authorization": f"Bearer {service.tokens['worker']}"}
        for number, body in enumerate(tqdm(bodies, desc="undisturbed", disable=None)):
            answer = requests.post(
                f"http://127.0.0.1:{service.port}/api/v1/equilibrium-pairs",
                json=body,
                headers=headers | {"Idempotency-Key": f"undisturbed-{number}"},
                timeout=60,
            )
            assert answer.status_code == 201, answer.text
        return Counter(of_body(body) for body in bodies), alarms_of(service)
    finally:
        service.kill()


class Happenings:
    """What befalls the installation in its week."""

    def __init__(self, stage: Stage, rng: Random) -> None:
        self.stage, self.wrongs = stage, Wrongs(stage, rng, 2.0)
        self.backup = stage.folder / "backup.jsonl.gz"
        self.backed_up_s = 0.0

    def kinds(self) -> dict[str, Callable[[], None]]:
        """By name, in the order in which a week brings them on; the backup comes before what restores it."""
        wrongs = self.wrongs
        kinds: dict[str, Callable[[], None]] = {
            "worker killed": wrongs.worker_killed,
            "service killed": wrongs.service_killed,
            "backup": self.back_up,
            "disk full": wrongs.disk_full,
            "broker killed": wrongs.broker_killed,
            "upgrade": self.upgrade,
            "PostgreSQL killed": wrongs.postgres_killed,
            "restore": self.restore,
        }
        return kinds | (wrongs.losses_of_power() if self.stage.disk.is_own else {})

    def _operate(self, program: str, *arguments: str, environ: dict[str, str]) -> str:
        command = [str(BIN / program), *arguments]
        done = subprocess.run(command, env=environ, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr[-2000:]
        return done.stdout

    def back_up(self) -> None:
        """Make a backup while everything runs."""
        self.backed_up_s = time.time()
        self._operate("heelmark", "backup", str(self.backup), environ=self.stage.service.direct)

    def upgrade(self) -> None:
        """Migrate while the old processes run, then roll service and worker, as the page on upgrades says."""
        service, worker = self.stage.service, self.stage.worker
        self._operate("heelmark", "migrate", environ=service.direct)
        for process in (service, worker):
            process.signal(signal.SIGTERM)
            assert process.running is not None
            process.running.wait(60)
            process.start()

    def restore(self) -> None:
        """Lose the database, restore the backup, and have the worker send again what it posted since."""
        service, worker = self.stage.service, self.stage.worker
        worker.kill()
        service.kill()
        self.stage.postgres.empty()
        self._operate("heelmark", "restore", str(self.backup), environ=service.direct)
        since = datetime.fromtimestamp(self.backed_up_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        self._operate("heelmark-ingest", "posted", "replay", "--since", since, environ=worker.environ)
        service.start()
        worker.start()


class Lived:
    """A week from its first reading to its report."""

    def __init__(self, folder: Path, seed: int, vans: int, days: int, playing_s: float) -> None:
        self.week = Week(seed, vans, days, playing_s)
        (folder / "undisturbed").mkdir()
        self.expected, self.expected_alarms = undisturbed(folder / "undisturbed", self.week)
        self.rng, self.happened = Random(seed), Counter[str]()
        self.in_hand, self.changed_s = 0, time.monotonic()
        self.stage = Stage(folder, self.week)
        try:
            self.week.register(self.stage.service)
            self.stage.begin()
        except BaseException:
            self.stage.end()
            raise

    def live(self, rounds: int, playing_s: float) -> None:
        """Bring on everything so many times, spread over the time in which the readings are told."""
        kinds = list(Happenings(self.stage, self.rng).kinds().items())
        for name, happen in tqdm(kinds * rounds, desc="happenings", disable=None):
            time.sleep(playing_s / (len(kinds) * rounds + 1))
            happen()
            self.happened[name] += 1
            self._supervise()

    def _supervise(self) -> None:
        for process in (self.stage.worker, self.stage.service):
            if process.exit_code is not None:
                process.start()

    def _found(self) -> Found:
        self._supervise()
        return in_database(self.stage.postgres.url)

    def _at_rest(self, bar: tqdm[NoReturn]) -> bool:
        """Whether every pair is there, or nothing has come for so long, and nothing waits, that none will."""
        found = self._found().pairs.total()
        if found != self.in_hand or self.stage.status().get("outbox", {}).get("waiting"):
            self.changed_s = time.monotonic()
        bar.update(found - self.in_hand)
        self.in_hand = found
        return time.monotonic() - self.changed_s > (REST_S if found >= self.expected.total() else LOST_S)

    def report(self, timeout_s: float) -> dict[str, Any]:
        """Wait until everything has come to rest; what became of every pair and every alarm."""
        gateway = self.stage.gateway
        assert gateway is not None
        with tqdm(total=self.expected.total(), desc="pairs", disable=None) as bar:
            wait_for(lambda: self._at_rest(bar) and gateway.done.is_set(), timeout_s)
        found, alarms = self._found(), alarms_of(self.stage.service)
        return {
            "packs": len(self.week.packs),
            "sent again by the gateway": gateway.resent,
            "happened": dict(self.happened),
            "pairs": self.expected.total(),
            "pairs missing": sorted(map(str, (self.expected - found.pairs).elements())),
            "pairs unexpected or doubled": sorted(map(str, (found.pairs - self.expected).elements())),
            "alarms": self.expected_alarms.total(),
            "alarms not raised": sorted(map(str, self.expected_alarms.keys() - alarms.keys())),
            "alarms beside": sorted(map(str, alarms.keys() - self.expected_alarms.keys())),
            "the worker's last status": self.stage.status(),
        }


def main() -> None:
    """Run from the command line and write the report; exit code 1 where a pair or an alarm is amiss."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--vans", type=int, default=40)
    parser.add_argument("--days", type=int, default=7)
    parser.add_argument("--rounds", type=int, default=2, help="of everything that happens")
    parser.add_argument("--minutes", type=float, default=6.0, help="in which the week is told")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: sys.exit(130))
    start, playing_s = time.monotonic(), 60.0 * args.minutes
    with tempfile.TemporaryDirectory() as scratch:
        lived = Lived(Path(scratch), args.seed, args.vans, args.days, playing_s)
        try:
            lived.live(args.rounds, playing_s)
            told = lived.report(600.0)
        finally:
            lived.stage.end()
    told = {"vans": args.vans, "days": args.days, "took_s": round(time.monotonic() - start), **told}
    output(f"week-{args.seed}.json").write_text(json.dumps(told, indent=1))
    print(json.dumps(told, indent=1))
    sys.exit(1 if any(told[name] for name in AMISS) else 0)


if __name__ == "__main__":
    main()
