"""How long one verdict takes, and how much longer the same curves take by direct equation-of-state calls.

    python -m tests.benchmarks.verdict_speed
    python -m tests.benchmarks.verdict_speed --against ../old

With another tree, both take turns, and the ratio of this tree's processor time to the other's is the median over the
turns: a machine that others use is too uneven for figures of two runs. Otherwise the ratio is that to direct calls,
measured in one run: a random sample of every state's hypotheses is flashed directly and scaled to all of them. Writes
`out/verdict_speed.json`.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from tqdm import tqdm

from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.cylinder_state import after_vapour_loss, at_liquid_fraction
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import Pair
from tests.benchmarks.output import output

TEMP_K = 297.0


def pairs(count: int) -> list[Pair]:
    """Readings of R-22, spread over 30 K."""
    temps = [298.15] if count == 1 else np.linspace(283.15, 313.15, count)
    pressures = load_curves().bubble_pressure_pa("R-22", np.array(temps))
    return [
        Pair(float(t), float(p) * 1.01, 0.1, 2e3, 0.3, 3e3, 0.005)
        for t, p in zip(temps, pressures, strict=True)
    ]


def verdict_times(engine: VerdictEngine, count: int, rounds: int) -> dict[str, float]:
    """Milliseconds of a whole verdict: as the clock shows, and of this thread's own processor time."""
    given = pairs(count)
    for _ in range(10):
        engine.verdict(given)
    wall, own = [], []
    for _ in tqdm(range(rounds), desc=f"Verdicts on {count} pairs", unit="verdict"):
        begin, begin_own = time.perf_counter(), time.thread_time()
        engine.verdict(given)
        wall.append(1e3 * (time.perf_counter() - begin))
        own.append(1e3 * (time.thread_time() - begin_own))
    return {
        "median_ms": float(np.median(wall)),
        "p10_ms": float(np.quantile(wall, 0.1)),
        "p99_ms": float(np.quantile(wall, 0.99)),
        "processor_median_ms": float(np.median(own)),
        "processor_p10_ms": float(np.quantile(own, 0.1)),
    }


ALONE = """
import sys, time
from tests.benchmarks.verdict_speed import *
engine = VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())
given = {count: pairs(count) for count in (1, 8)}
for line in sys.stdin:
    begin = time.process_time()
    engine.verdict(given[int(line)])
    print(1e3 * (time.process_time() - begin), flush=True)
"""
"""What answers in each tree: milliseconds of processor of one verdict on so many pairs."""


def against(other: Path, rounds: int) -> dict[str, float]:
    """Processor time of this tree over that of another, by number of pairs; medians over turns of both."""
    command, found = (sys.executable, "-c", ALONE), {}
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    with (
        subprocess.Popen(command, cwd=other, **pipes) as old,
        subprocess.Popen(command, cwd=Path(__file__).parents[2], **pipes) as new,
    ):
        for count in (1, 8):
            for _ in range(10):
                _turn(old, count), _turn(new, count)
            took = [
                (_turn(old, count), _turn(new, count))
                for _ in tqdm(range(rounds), desc=f"Turns on {count} pairs", unit="turn")
            ]
            found[f"{count} pairs"] = float(np.median([new_ms / old_ms for old_ms, new_ms in took]))
        old.stdin.close()
        new.stdin.close()
    return found


def _turn(process, count: int) -> float:
    process.stdin.write(f"{count}\n")
    process.stdin.flush()
    return float(process.stdout.readline())


def direct_seconds(engine: VerdictEngine, sample: int, seed: int) -> float:
    """Processor seconds to flash every hypothesis that has a composition once, from a sample of each state."""
    catalogue, space, rng = load_catalogue(), engine.space, np.random.default_rng(seed)
    total = 0.0
    for state, block in space.blocks.items():
        if state == "several":  # which refrigerants they are is left open
            continue
        chosen = rng.choice(block.size, size=sample, replace=False)
        spent = 0.0
        for row in tqdm(chosen, desc=f"Direct flashes, {state}", unit="curve"):
            index = np.unravel_index(int(row), block.shape)
            begin = time.thread_time()
            with suppress(NoConvergence):
                _flash(catalogue, space, state, index)
            spent += time.thread_time() - begin
        total += spent / sample * block.size
    return total


def _flash(catalogue, space, state: str, index: tuple[int, ...]) -> float:
    refrigerant = catalogue[space.designations[index[0]]]
    if state == "mixed":
        second = catalogue[space.contaminants[index[1]]]
        if second.designation == refrigerant.designation:
            return 0.0
        composition = mixed_composition(refrigerant, second, float(space.share.nodes[index[2]]))
        return EquationOfState(composition).bubble(TEMP_K).pressure_pa
    equation = EquationOfState(composition_of(refrigerant))
    if state == "shifted":
        if not refrigerant.is_blend:
            return 0.0
        equation.set_mole_fractions(after_vapour_loss(equation, TEMP_K, 0.8, [0.02])[0])
        return equation.bubble(TEMP_K).pressure_pa
    if not refrigerant.is_blend:
        return equation.bubble(TEMP_K).pressure_pa
    fill = space.fill.nodes[index[1]] if state == "none" else space.air_fill.nodes[index[2]]
    return at_liquid_fraction(equation, TEMP_K, float(fill)).pressure_pa


def main() -> None:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=300)
    parser.add_argument("--sample", type=int, default=60)
    parser.add_argument(
        "--against", type=Path, help="folder of another tree to compare with, and nothing else"
    )
    arguments = parser.parse_args()
    if arguments.against is not None:
        print(json.dumps(against(arguments.against, arguments.rounds), indent=1))
        return
    begin = time.perf_counter()
    engine = VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())
    report: dict[str, object] = {"ready_s": time.perf_counter() - begin, "hypotheses": engine.space.size}
    report["one pair"] = verdict_times(engine, 1, arguments.rounds)
    report["eight pairs"] = verdict_times(engine, 8, arguments.rounds)
    direct = direct_seconds(engine, arguments.sample, 3)
    report["direct_s"] = direct
    report["ratio"] = 1e3 * direct / report["one pair"]["processor_median_ms"]
    report["load_average"] = os.getloadavg()[0]
    output("verdict_speed.json").write_text(json.dumps(report, indent=1))
    print(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
