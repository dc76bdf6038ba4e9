"""Mutated packs by the million: nothing may crash, nothing may leak.

    python -m tests.faults.fuzz --packs 1000000 --seed 1
    python -m tests.faults.fuzz --guided --target rules --runs 1000000

The second one is led by coverage (tests/faults/guided.py) and needs `pip install atheris`. In the first one
valid packs are cut, spliced and spoiled byte by byte and field by field; mutants that reach a reason or a length not
met before are kept and mutated further.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random

import psutil
from tqdm import tqdm

from ingest.criteria import SettlingSettings
from ingest.hookup import Hookup
from ingest.pipeline import Pipeline
from ingest.senml import Refused
from tests.faults.packs import DEVICE, NOW, WORDS, seeds


def mutated(rng: Random, pool: list[bytes]) -> bytes:
    """Return a spoiled pack."""
    pack = bytearray(rng.choice(pool))
    for _ in range(rng.choice((1, 1, 2, 4))):
        at = rng.randrange(len(pack) + 1)
        kind = rng.randrange(5)
        if kind == 0 and pack:
            pack[rng.randrange(len(pack))] = rng.randrange(256)
        elif kind == 1:
            del pack[at : at + rng.randrange(1, 12)]
        elif kind == 2:
            pack[at:at] = rng.choice(WORDS).encode()
        elif kind == 3:
            other = rng.choice(pool)
            cut = rng.randrange(len(other) + 1)
            pack[at:] = other[cut:]
        else:
            piece = pack[at : at + rng.randrange(1, 30)]
            pack[at:at] = piece * rng.randrange(1, 4)
    return bytes(pack[:4000])


def fuzz(count: int, seed: int) -> tuple[Counter[str], float]:
    """Feed so many mutants to a pipeline with one hookup; returns outcomes and memory growth [MB]."""
    rng, pool = Random(seed), seeds()
    pipeline = Pipeline(SettlingSettings())
    pipeline.attach([Hookup(1, "C", "shop", DEVICE, DEVICE)])
    outcomes: Counter[str] = Counter()
    process, start_mb = psutil.Process(), 0.0
    for number in tqdm(range(count), desc="packs", disable=None):
        payload = mutated(rng, pool)
        try:
            pipeline.take("shop", DEVICE, payload, NOW + 0.01 * number)
            outcome = "read"
        except Refused as refused:
            outcome = refused.reason
        outcomes[outcome] += 1
        if (outcomes[outcome] == 1 or outcome == "read") and len(pool) < 2000:
            pool.append(payload)
        if number == 3 * count // 5:
            start_mb = process.memory_info().rss / 1e6
    return outcomes, process.memory_info().rss / 1e6 - start_mb


def guided(target: str, runs: int, seed: int, folder: Path) -> dict[str, float]:
    """Fuzz a target led by coverage in a process of its own; raises AssertionError with what libFuzzer says."""
    from tests.faults.guided import prepare

    corpus, report = folder / "corpus", folder / "report.json"
    corpus.mkdir()
    prepare(corpus)
    command = [sys.executable, "-m", "tests.faults.guided", target, str(runs), str(seed), report, corpus]
    done = subprocess.run(command, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 0, done.stderr[-6000:]
    told: dict[str, float] = json.loads(report.read_text())
    covered = [line for line in done.stderr.splitlines() if " cov: " in line]
    return told | {"covered": int(covered[-1].split(" cov: ")[1].split()[0]) if covered else 0}


def main() -> None:
    """Run from the command line; any crash ends it with its traceback."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--packs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", action="store_true")
    parser.add_argument("--target", choices=("packs", "rules", "pipeline"), default="packs")
    parser.add_argument("--runs", type=int, default=1_000_000)
    args = parser.parse_args()
    if args.guided:
        if importlib.util.find_spec("atheris") is None:
            sys.exit("atheris is not installed: .venv/bin/python -m pip install atheris")
        with tempfile.TemporaryDirectory() as folder:
            print(json.dumps(guided(args.target, args.runs, args.seed, Path(folder)), indent=1))
        return
    outcomes, growth_mb = fuzz(args.packs, args.seed)
    told = {"outcomes": dict(outcomes), "growth_mb_in_the_last_two_fifths": round(growth_mb, 1)}
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    main()
