"""Cost of a reading and memory of a hookup, from a hundred hookups to a hundred thousand in one process.

python -m tests.benchmarks.ingest_scale --sizes 100 1000 10000 100000 --packs-each 8
"""

from __future__ import annotations

import argparse
import gc
import json
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import psutil
from tqdm import tqdm

from ingest.hookup import Hookup
from ingest.pipeline import Pipeline
from ingest.settling import SettlingSettings

OUT = Path(__file__).parent / "out"
START = 1.7e9


def measure(size: int, each: int) -> dict[str, float]:
    """Feed `size` hookups `each` packs of two readings and return time and memory of it."""
    rng = Random(1)
    names = [f"urn:dev:mac:0024beff{n:08x}" for n in range(size)]
    process = psutil.Process()
    gc.collect()
    before = process.memory_info().rss
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup(n, f"C-{n}", "shop", name, name) for n, name in enumerate(names)])
    spent, packs = 0.0, 0
    for turn in tqdm(range(each), desc=f"{size} hookups", disable=None):
        stamp = START + 5.0 * turn
        made = [
            f'[{{"bn":"{name}:","bt":{stamp},"n":"gauge-pressure","u":"Pa","v":{8e5 + rng.gauss(0, 400):.0f}}},'
            f'{{"n":"wall-temperature","u":"Cel","v":{21 + rng.gauss(0, 0.05):.2f}}}]'.encode()
            for name in names
        ]
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
        "packs_each": each,
        "us_per_reading": 1e6 * spent / packs / 2,
        "bytes_per_hookup": (after - before) / size,
        "resident_mb": after / 1e6,
    }


def main() -> None:
    """Run each size in a process of its own and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=[100, 1000, 10_000, 100_000])
    parser.add_argument("--packs-each", type=int, default=8)
    parser.add_argument("--one", type=int)
    args = parser.parse_args()
    if args.one:
        print(json.dumps(measure(args.one, args.packs_each)))
        return
    rows = []
    for size in args.sizes:
        command = [sys.executable, "-m", "tests.benchmarks.ingest_scale", "--one", str(size)]
        done = subprocess.run(
            [*command, "--packs-each", str(args.packs_each)], stdout=subprocess.PIPE, text=True, check=True
        )
        rows.append(json.loads(done.stdout.splitlines()[-1]))
        print(rows[-1])
    OUT.mkdir(exist_ok=True)
    (OUT / "ingest-scale.json").write_text(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
