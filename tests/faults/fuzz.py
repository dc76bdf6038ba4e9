"""Mutated packs by the million: nothing may crash, nothing may leak.

    python -m tests.faults.fuzz --packs 1000000 --seed 1
    python -m tests.faults.fuzz --guided --target rules --runs 1000000

The second one is led by coverage (tests/faults/guided.py) and needs `pip install atheris`. In the first one
valid packs are cut, spliced and spoiled byte by byte and number by number, and go all the way: inbox, settling,
acknowledgement, live values, and the service's reading of these; mutants that are read, or refused for a reason not met
before, are kept and mutated further.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import math
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from random import Random

import psutil
from tqdm import tqdm

from ingest.runtime.worker import Worker
from service.api.schemas.live import LiveSchema
from tests.faults.packs import DEVICE, LABELS, NOW, NUMBERS, WORDS, seeds
from tests.support.fake_service import hookup
from tests.support.feeding import Made
from tests.support.workers import FakeListener, made_worker

BATCH, RESTART_EVERY = 200, 50


def mutated(rng: Random, pool: list[bytes]) -> bytes:
    """Return a spoiled pack: one of its numbers is another, or its bytes are."""
    pack = rng.choice(pool)
    if rng.random() < 0.3:
        pack = _with_number(rng, pack)
    return pack if rng.random() < 0.2 else _cut(rng, bytearray(pack), pool)


def _with_number(rng: Random, pack: bytes) -> bytes:
    try:
        records = json.loads(pack)
        rng.choice(records)[rng.choice(LABELS)] = rng.choice(NUMBERS)
    except (ValueError, TypeError, KeyError, IndexError, RecursionError):
        return pack
    return json.dumps(records).encode()


def _cut(rng: Random, pack: bytearray, pool: list[bytes]) -> bytes:
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


def fuzz(count: int, seed: int, folder: Path) -> tuple[Counter[str], float]:
    """Give so many mutants to a worker with one hookup, batch by batch to the end of their way.

    Every batch is stored, settled and acknowledged, its live values are made, and the service's side of `PUT /live`
    reads them; now and then the worker is started again over what it has stored. Returns outcomes and memory growth
    [MB].
    """
    rng, pool = Random(seed), seeds()
    worker = made_worker(folder, [hookup(1, DEVICE)])
    outcomes: Counter[str] = Counter()
    process, start_mb = psutil.Process(), 0.0
    for batch in tqdm(range(math.ceil(count / BATCH)), desc=f"batches of {BATCH}", disable=None):
        packs = [mutated(rng, pool) for _ in range(min(BATCH, count - batch * BATCH))]
        reasons = _through(worker, packs, NOW + 0.01 * BATCH * batch)
        for payload, outcome in zip(packs, reasons, strict=True):
            outcomes[outcome] += 1
            if (outcomes[outcome] == 1 or outcome == "read") and len(pool) < 2000:
                pool.append(payload)
        outcomes["faults"] += worker.pipeline.counts.pop("faults", 0)
        if batch % RESTART_EVERY == RESTART_EVERY - 1:
            # Without its replay point the session is rebuilt from everything that the inbox still holds.
            worker.journal.drop_sessions([1])
            worker.journal.close()
            worker = made_worker(folder)
            outcomes["faults"] += worker.pipeline.counts["faults"]
        if batch == 3 * count // 5 // BATCH:
            start_mb = process.memory_info().rss / 1e6
    return outcomes, process.memory_info().rss / 1e6 - start_mb


def _through(worker: Worker, packs: list[bytes], now_s: float) -> list[str]:
    """Take packs to the end of their way; returns what became of each."""
    listener = worker.listener
    assert isinstance(listener, FakeListener)
    listener.refused.clear()
    listener.acknowledged.clear()
    listener.deliver([Made(now_s + 0.01 * n, DEVICE, payload) for n, payload in enumerate(packs)])
    worker.clock.now_s = now_s + 0.01 * len(packs)
    while worker.turn():
        pass
    assert listener.acknowledged == list(range(1, len(packs) + 1))
    told = worker.live()
    if told is not None:
        LiveSchema().load(json.loads(json.dumps(told, allow_nan=False)))
    return [listener.refused.get(mid, "read") for mid in listener.acknowledged]


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
    with tempfile.TemporaryDirectory() as folder:
        outcomes, growth_mb = fuzz(args.packs, args.seed, Path(folder))
    told = {"outcomes": dict(outcomes), "growth_mb_in_the_last_two_fifths": round(growth_mb, 1)}
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    main()
