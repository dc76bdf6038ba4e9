"""A seeded storm of faults over a fleet of hookups; afterwards every pair is in the database exactly once.

    python -m tests.faults.storm --faults 200 --hookups 80 --seed 1

The real service (gunicorn) over a PostgreSQL of its own, the real worker, a Mosquitto and a store-and-forward gateway,
each a process, with a proxy on every link. What an undisturbed run gives is computed from the same packs by the pure
pipeline alone; rows of the table `pairs` are compared with it one by one. The report goes to tests/benchmarks/out/.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import psycopg
from tqdm import tqdm

from tests.benchmarks.output import output
from tests.faults.processes import MachineTime, wait_for
from tests.faults.season import Found, Pair, Season, in_database
from tests.faults.stage import Stage
from tests.faults.wrongs import Fault, Wrongs

A_FAULT_S = 2.2
"""About what a fault takes with the pause after it, to have the readings last as long as the storm, [s]."""


@dataclass
class Report:
    """What happened and how it ended."""

    seed: int
    hookups: int
    packs: int
    own_disk: bool
    own_clocks: bool
    expected: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    missing: list[str] = field(default_factory=list)
    unexpected: list[str] = field(default_factory=list)
    events_of_pairs: int = 0
    verdicts: int = 0
    own_ends: list[int] = field(default_factory=list)
    status: dict[str, object] = field(default_factory=dict)
    pairs_before_the_last_fault: int = 0
    resent: int = 0
    took_s: float = 0.0

    @property
    def whole(self) -> bool:
        """Whether every pair of the undisturbed run is there, once, and no other, with one event and one verdict."""
        once = self.events_of_pairs == self.verdicts == self.expected
        return not self.missing and not self.unexpected and once


class Storm:
    """One storm from its first fault to its report."""

    def __init__(self, folder: Path, seed: int, hookups: int, spread_s: float, playing_s: float) -> None:
        self.rng = Random(seed)
        season = Season(seed, hookups, spread_s, playing_s)
        self.stage = Stage(folder, season)
        self.report = Report(
            seed, hookups, len(season.packs), self.stage.disk.is_own, MachineTime.compiler() is not None
        )
        try:
            season.register(self.stage.service)
            self.expected = season.undisturbed(self.stage.service)
            self.stage.begin()
        except BaseException:
            self.stage.end()
            raise
        self.report.expected = self.expected.total()

    def blow(self, count: int, longest_s: float = 3.0, pause_s: float = 1.0, *, minutes: bool = True) -> None:
        """Bring on so many faults, each kind in turn and in a random order, a minute's freezes among them."""
        wrongs = Wrongs(self.stage, self.rng, longest_s)
        start = time.monotonic()
        for name, fault in tqdm(self._order(wrongs, count, minutes=minutes), desc="faults", disable=None):
            fault()
            self.report.faults[name] += 1
            time.sleep(self.rng.uniform(0.2, 1.0) * pause_s)
            self.supervise()
        self.report.took_s = time.monotonic() - start
        self.report.pairs_before_the_last_fault = self._found().pairs.total()

    def _order(self, wrongs: Wrongs, count: int, *, minutes: bool) -> list[tuple[str, Fault]]:
        kinds, order = wrongs.kinds(), list[tuple[str, Fault]]()
        while len(order) < count:
            order += [(name, kinds[name]) for name in self.rng.sample(sorted(kinds), len(kinds))]
        order = order[:count]
        if minutes:
            for item in wrongs.minutes().items():
                order[self.rng.randrange(count)] = item
        return order

    def supervise(self) -> None:
        """Start what has ended by itself again, as any supervisor would, and say so in the report."""
        for process in (self.stage.worker, self.stage.service):
            if process.exit_code is not None:
                self.report.own_ends.append(process.exit_code)
                process.start()

    def _found(self) -> Found:
        try:
            return in_database(self.stage.postgres.url)
        except psycopg.Error:
            return Found(Counter(), 0, 0)

    def settle(self, timeout_s: float) -> Report:
        """Let everything come to rest and compare with the undisturbed run."""
        gateway = self.stage.gateway
        assert gateway is not None
        wait_for(lambda: self.supervise() or gateway.done.is_set(), timeout_s)
        wait_for(lambda: self.supervise() or self._found().pairs.total() >= self.expected.total(), timeout_s)
        time.sleep(4.0)
        found, report = self._found(), self.report
        report.missing = _told(self.expected - found.pairs)
        report.unexpected = _told(found.pairs - self.expected)
        report.events_of_pairs, report.verdicts = found.events, found.verdicts
        report.status, report.resent = self.stage.status(), gateway.resent
        return report


def _told(pairs: Counter[Pair]) -> list[str]:
    return sorted(str(tuple(map(str, pair))) for pair in pairs.elements())


def written(report: Report) -> str:
    """Return the report for people."""
    ends = Counter(report.own_ends)
    lines = [
        f"# Storm of {report.faults.total()} faults, seed {report.seed}",
        "",
        f"{report.hookups} hookups, {report.packs} packs, {report.resent} of them sent again by the gateway, "
        f"{report.took_s:.0f} s of faults.",
        f"Pairs of the undisturbed run: {report.expected}; missing {len(report.missing)}, "
        f"unexpected or doubled {len(report.unexpected)}; events of pairs {report.events_of_pairs}, "
        f"verdicts {report.verdicts}; in the database before the last fault: "
        f"{report.pairs_before_the_last_fault}.",
        f"Worker's disk its own: {report.own_disk}; clocks set: {report.own_clocks}; "
        f"ended by themselves (exit code: times): {dict(ends)}.",
        f"The worker's last status: {json.dumps(report.status)}",
        "",
        "| fault | times |",
        "|---|---|",
        *(f"| {name} | {times} |" for name, times in sorted(report.faults.items())),
        "",
        *(f"missing: {one}" for one in report.missing),
        *(f"unexpected: {one}" for one in report.unexpected),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run a storm from the command line and write its report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=200)
    parser.add_argument("--hookups", type=int, default=80)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for logs and files, kept afterwards")
    args = parser.parse_args()
    for number in (signal.SIGTERM, signal.SIGINT):
        # What it has started must not outlive it.
        signal.signal(number, lambda *_: sys.exit(130))
    with tempfile.TemporaryDirectory() as scratch:
        folder = args.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        playing_s = A_FAULT_S * args.faults + 240.0
        storm = Storm(folder, args.seed, args.hookups, playing_s, playing_s)
        try:
            storm.blow(args.faults)
            report = storm.settle(600.0)
        finally:
            storm.stage.end()
    told = {**report.__dict__, "whole": report.whole}
    output(f"storm-{args.seed}.json").write_text(json.dumps(told, indent=1))
    output(f"storm-{args.seed}.md").write_text(written(report))
    print(written(report))
    sys.exit(0 if report.whole else 1)


if __name__ == "__main__":
    main()
