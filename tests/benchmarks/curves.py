"""How long the tables take against the equation of state itself, in one run.

``python -m tests.benchmarks.curves`` writes ``tests/benchmarks/out/curves.json``.
"""

import json
from collections.abc import Callable
from statistics import median
from time import perf_counter

import numpy as np
from tqdm import tqdm

from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.equation_of_state import EquationOfState
from service.store.artefacts import load_catalogue, load_curves
from tests.benchmarks.output import output

REPEATS = 200
TEMPS_K = np.linspace(283.0, 308.0, 8)


def median_ms(call: Callable[[], object]) -> float:
    """Median duration of a call, [ms]."""
    durations = []
    for _ in range(REPEATS):
        start = perf_counter()
        call()
        durations.append(1e3 * (perf_counter() - start))
    return median(durations)


def equation_ms(temp_k: float) -> tuple[float, int]:
    """Time of one bubble flash of every designation whose curve reaches temp_k [K], and how many."""
    catalogue, curves = load_catalogue(), load_curves()
    reached = [
        EquationOfState(composition_of(item))
        for name, item in catalogue.items()
        if curves.temp_range_k(name)[0] <= temp_k <= curves.temp_range_k(name)[1]
    ]
    start = perf_counter()
    for equation in tqdm(reached, desc="equation of state", unit="flash"):
        equation.bubble(temp_k)
    return 1e3 * (perf_counter() - start), len(reached)


def main() -> None:
    """Measure and write the figures."""
    curves = load_curves()
    one, several = TEMPS_K[:1], TEMPS_K
    flashes_ms, flashes = equation_ms(float(one[0]))
    tables_ms = median_ms(lambda: curves.log_bubble_pressure(one))
    figures = {
        "designations": len(curves.designations),
        "tables_one_temperature_ms": tables_ms,
        "tables_eight_temperatures_ms": median_ms(lambda: curves.log_bubble_pressure(several)),
        "inverse_one_pressure_ms": median_ms(lambda: curves.bubble_temps_k(np.array([1e6]))),
        "equation_of_state_one_temperature_ms": flashes_ms,
        "flashes": flashes,
        "times_faster": flashes_ms / tables_ms,
    }
    output("curves.json").write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(figures, indent=1))


if __name__ == "__main__":
    main()
