"""The rules that decide against the plain ones, on a million random cylinders.

``python -m tests.benchmarks.rules_compared --cylinders 1000000 --seed 0 --processes 2`` counts the cylinders of which
the two say anything differently and tells the first differences in words, each with its seed.
"""

import argparse
import sys
from collections import Counter
from functools import cache
from multiprocessing import Pool

from tqdm import tqdm

from service.cylinders.properties import Knowledge
from service.operations.support.rule_data import knowledge_of
from service.store.artefacts import load_catalogue, load_curves
from tests.support.rules_compared import differences

CHUNK = 500
SHOWN = 10


@cache
def knowledge() -> Knowledge:
    return knowledge_of(load_catalogue(), load_curves())


def compared(first: int, count: int) -> list[tuple[int, list[str]]]:
    """The seeds of which something is said differently, and what."""
    found = ((seed, differences(seed, knowledge())) for seed in range(first, first + count))
    return [(seed, told) for seed, told in found if told]


def main() -> int:
    parser = argparse.ArgumentParser(description="Compare the rules with the plain ones.")
    parser.add_argument("--cylinders", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=0, help="of the first cylinder; the next ones follow")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    last = asked.seed + asked.cylinders
    chunks = [(first, min(CHUNK, last - first)) for first in range(asked.seed, last, CHUNK)]
    different: list[tuple[int, list[str]]] = []
    with Pool(asked.processes) as pool, tqdm(total=asked.cylinders, unit="cylinder", disable=None) as bar:
        waiting = [pool.apply_async(compared, chunk) for chunk in chunks]
        for (_, count), answer in zip(chunks, waiting, strict=True):
            different += answer.get()
            bar.update(count)
    print(f"{asked.cylinders} cylinders, {len(different)} of which something is said differently")
    for what, number in Counter(line.split(":")[0] for _, told in different for line in told).most_common():
        print(f"{number:8} {what}")
    for seed, told in different[:SHOWN]:
        print(f"\nseed {seed}", *told, sep="\n  ")
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
