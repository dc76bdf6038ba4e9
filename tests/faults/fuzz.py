"""Mutated packs by the million: nothing may crash, nothing may leak.

    python -m tests.faults.fuzz --packs 1000000 --seed 1

Valid packs are cut, spliced and spoiled byte by byte and field by field; mutants that reach a reason or a length not
met before are kept and mutated further.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from random import Random

import psutil
from tqdm import tqdm

from ingest.hookup import Hookup
from ingest.pipeline import Pipeline
from ingest.senml import Refused
from ingest.settling import SettlingSettings

DEVICE = "urn:dev:mac:0024befffe804ff1"
NOW = 1.7e9
WORDS = (
    *("NaN", "Infinity", "-Infinity", "1e999", "-0", "null", "true", "[]", "{}", '""', '"x_"', "9" * 400),
    *(
        '"bn"',
        '"bt"',
        '"bver"',
        '"v"',
        '"vs"',
        '"vb"',
        '"s"',
        '"t"',
        '"u"',
        '"K"',
        '"Cel"',
        '"Pa"',
        "268435456",
        "\\ud800",
    ),
)


def seeds() -> list[bytes]:
    """Packs to begin with."""
    full = [
        {"bn": f"{DEVICE}:", "bt": NOW, "n": "gauge-pressure", "u": "Pa", "v": 8e5},
        {"n": "wall-temperature", "u": "Cel", "v": 21.5},
        {"n": "battery", "u": "%EL", "v": 80},
        {"n": "mass", "u": "kg", "v": 21.0, "t": -2},
    ]
    return [json.dumps(full[:n]).encode() for n in range(1, 5)] + [b"[]", b"{}", b"", b"[{}]"]


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


def main() -> None:
    """Run from the command line; any crash ends it with its traceback."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--packs", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    outcomes, growth_mb = fuzz(args.packs, args.seed)
    print(
        json.dumps(
            {"outcomes": dict(outcomes), "growth_mb_in_the_last_two_fifths": round(growth_mb, 1)}, indent=1
        )
    )
    sys.exit(0)


if __name__ == "__main__":
    main()
