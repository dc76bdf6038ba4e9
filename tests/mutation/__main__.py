"""Put small wrongs into pure modules, one at a time, and tell which of them no test notices.

``python -m tests.mutation service/cylinders/judgement --minutes 20 --seed 1`` takes the modules of a folder in random
order, as many mutants as the time allows; without a path it takes every pure module. Each mutant meets the tests that
mirror its module, the nearest first. Nothing is written into the source tree.

A survivor that changes nothing that anybody can tell stands in ``equivalent.txt`` with the reason.
"""

import argparse
import random
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from tqdm import tqdm

from tests.mutation.child import ROOT, Stage, load, passes
from tests.mutation.mutants import Mutant, mutants

PURE = ("service/cylinders", "service/verdict", "ingest/estimator", "ingest/sessions", "ingest/wire/retry.py")
EQUIVALENT = Path(__file__).with_name("equivalent.txt")
LEAST_CPU_S = 30


def modules(paths: Sequence[str]) -> Iterator[Path]:
    for path in paths or PURE:
        found = ROOT / path
        yield from sorted(found.rglob("*.py")) if found.is_dir() else [found]


def stages(module: Path) -> list[Stage]:
    """The test file that mirrors a module, then the rest of the folder that mirrors its folder."""
    parts = module.relative_to(ROOT).parent.parts
    folder = ROOT / "tests" / Path(*(parts if parts[0] == "ingest" else parts[1:]))
    mirror = folder / f"test_{module.name}"
    while not folder.exists():
        folder = folder.parent
    found: list[Stage] = []
    if mirror.exists():
        found.append([str(mirror)])
    found.append([str(folder), f"--ignore={mirror}"])
    return found


def known_equivalent() -> set[tuple[str, str]]:
    """Path and change of each."""
    lines = [line for line in EQUIVALENT.read_text().splitlines() if line and line[0] not in "# "]
    return {(path, change) for path, change in (line.split(": ", 1) for line in lines)}


def main() -> int:
    asked = _arguments()
    drawn = random.Random(asked.seed)
    made = [(module, one) for module in modules(asked.paths) for one in mutants(module.read_text())]
    known = known_equivalent()
    chosen = [one for one in made if (_path(one[0]), one[1].change) not in known]
    drawn.shuffle(chosen)
    chosen = chosen[: asked.sample]
    every = {module: stages(module) for module, _ in chosen}
    load([stage for found in every.values() for stage in found])
    started = time.process_time(), time.monotonic()
    if not all(
        passes([stage], 3600) for stage in {tuple(stage) for found in every.values() for stage in found}
    ):
        print("The tests fail without any mutant")
        return 2
    cpu_s = LEAST_CPU_S + 3 * int(time.monotonic() - started[1])
    survivors, tried = [], 0
    with tqdm(chosen, unit="mutant", disable=None) as bar:
        for module, mutant in bar:
            if time.monotonic() - started[1] > 60.0 * asked.minutes:
                break
            tried += 1
            if passes(every[module], cpu_s, module, mutant):
                survivors.append((module, mutant))
                bar.write(f"survives  {_path(module)}:{mutant}", file=sys.stdout)
    return _report(len(made), len(made) - len(chosen), tried, survivors)


def _report(made: int, left_out: int, tried: int, survivors: list[tuple[Path, Mutant]]) -> int:
    print(f"\n{made} mutants, {left_out} left out; {tried} tried, {tried - len(survivors)} noticed, "
          f"{len(survivors)} survive")  # fmt: skip
    for module, mutant in sorted(survivors, key=lambda one: (one[0], one[1].line)):
        print(f"{_path(module)}:{mutant}")
    return 1 if survivors else 0


def _path(module: Path) -> str:
    return module.relative_to(ROOT).as_posix()


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Tell which small wrongs no test notices.")
    parser.add_argument("paths", nargs="*", help="modules or folders; every pure module unless given")
    parser.add_argument("--minutes", type=float, default=30.0, help="stop after so long")
    parser.add_argument("--sample", type=int, default=None, help="at most so many mutants")
    parser.add_argument("--seed", type=int, default=1, help="of their order")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
