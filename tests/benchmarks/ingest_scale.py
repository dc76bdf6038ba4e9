"""Cost of a reading and memory of a hookup, from a hundred hookups to a hundred thousand in one process.

    python -m tests.benchmarks.ingest_scale --sizes 100 1000 10000 100000 --packs-each 8

Twice: hookups that have just begun, and such as have been settled for two hours and go on reporting every 5 s.
"""

from __future__ import annotations

import argparse
import gc
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from random import Random

import psutil
from tqdm import tqdm

from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.snapshot import serialize
from ingest.wire.hookup import Hookup
from tests.benchmarks.output import output
from tests.support.feeding import one_device

START = 1.7e9


MODELS, SETTLED_S = 6, 7200.0
NAME = "urn:dev:mac:0024beffffffffff"


def hookups_of(names: list[str]) -> list[Hookup]:
    """Return a hookup for each device."""
    return [Hookup(n, f"C-{n}", "shop", name, name) for n, name in enumerate(names)]


def fresh(names: list[str], each: int) -> tuple[Pipeline, Iterator[tuple[float, list[bytes]]]]:
    """Return a pipeline of hookups that have just begun, and rounds of packs for all of them."""
    pipeline, rng = Pipeline(SettlingSettings()), Random(1)
    pipeline.attach(hookups_of(names))

    def rounds() -> Iterator[tuple[float, list[bytes]]]:
        for turn in range(each):
            stamp = START + 5.0 * turn
            pressure = f'"bt":{stamp},"n":"gauge-pressure","u":"Pa","v"'
            yield (
                stamp,
                [
                    f'[{{"bn":"{name}:",{pressure}:{8e5 + rng.gauss(0, 400):.0f}}},'
                    f'{{"n":"wall-temperature","u":"Cel","v":{21 + rng.gauss(0, 0.05):.2f}}}]'.encode()
                    for name in names
                ],
            )

    return pipeline, rounds()


def at_rest(names: list[str], each: int) -> tuple[Pipeline, Iterator[tuple[float, list[bytes]]]]:
    """Return the same of hookups that have long settled: copies of a few that were really followed so far."""
    states, courses, settled = [], [], int(SETTLED_S / 5.0)
    for seed in range(MODELS):
        packs = one_device(NAME, seed, SETTLED_S + 5.0 * each, 5.0)
        model = Pipeline(SettlingSettings())
        model.attach([Hookup(1, "C", "shop", NAME, NAME)])
        for pack in packs[:settled]:
            model.take("shop", NAME, pack.payload, pack.stamp_s + 0.2)
        states.append(serialize(model.sessions[1]))
        courses.append(packs[settled:])
    pipeline = Pipeline(SettlingSettings())
    for hookup in hookups_of(names):
        pipeline.sessions.restore(hookup, bytes(bytearray(states[hookup.id % MODELS])))
    pipeline.attach(hookups_of(names))

    def rounds() -> Iterator[tuple[float, list[bytes]]]:
        for turn in range(each):
            texts = [course[turn].payload for course in courses]
            made = [texts[n % MODELS].replace(NAME.encode(), name.encode()) for n, name in enumerate(names)]
            yield courses[0][turn].stamp_s, made

    return pipeline, rounds()


def measure(size: int, each: int, *, settled: bool) -> dict[str, float | str]:
    """Feed `size` hookups `each` packs of two readings and return time and memory of it."""
    names = [f"urn:dev:mac:0024beff{n:08x}" for n in range(size)]
    process = psutil.Process()
    gc.collect()
    before = process.memory_info().rss
    pipeline, rounds = (at_rest if settled else fresh)(names, each)
    spent, packs = 0.0, 0
    for stamp, made in tqdm(rounds, total=each, desc=f"{size} hookups", disable=None):
        start = time.process_time()
        for name, payload in zip(names, made, strict=True):
            pipeline.take("shop", name, payload, stamp + 0.2)
        spent += time.process_time() - start
        packs += len(made)
    del made
    gc.collect()
    after = process.memory_info().rss
    return {
        "hookups": size,
        "state": "at rest" if settled else "fresh",
        "packs_each": each,
        "us_per_reading": round(1e6 * spent / packs / 2, 1),
        "bytes_per_hookup": round((after - before) / size),
        "open_sessions": pipeline.sessions.open,
        "resident_mb": round(after / 1e6),
    }


def main() -> None:
    """Run each size in a process of its own and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[100, 1000, 10_000, 100_000])
    parser.add_argument("--packs-each", type=int, default=8)
    parser.add_argument("--one", type=int)
    parser.add_argument("--settled", action="store_true")
    args = parser.parse_args()
    if args.one:
        print(json.dumps(measure(args.one, args.packs_each, settled=args.settled)))
        return
    rows = []
    for size, settled in [(size, settled) for settled in ((), ("--settled",)) for size in args.sizes]:
        command = [sys.executable, "-m", "tests.benchmarks.ingest_scale", "--one", str(size), *settled]
        done = subprocess.run(
            [*command, "--packs-each", str(args.packs_each)], stdout=subprocess.PIPE, text=True, check=True
        )
        rows.append(json.loads(done.stdout.splitlines()[-1]))
        print(rows[-1], flush=True)
    output("ingest-scale.json").write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
