"""What the prior of dissolved oil costs and brings: another refrigerant that lowers the pressure against oil that does.

    python -m tests.benchmarks.oil_prior --each 12

Four hosts under their right label, one reading with each of three instruments. Mixtures have 10 to 40 % of another
refrigerant that lowers the pressure by 1.5 % or more, at the pressures of the verdict's own table; oil takes 1.5 or 4 %
of the pressure, air adds 5 %. Each prior judges the same readings. Writes `out/oil_prior.json`.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from unittest.mock import patch

import numpy as np
from tqdm import tqdm

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict import chebyshev, quadrature_grids
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair
from tests.benchmarks.output import output
from tests.benchmarks.truth_cylinders import INSTRUMENTS, Instrument

TEMP_K = 297.15
HOSTS = ("R-22", "R-410A", "R-404A", "R-134a")
SECONDS = ("R-134a", "R-12", "R-123", "R-22", "R-454B", "R-600a")
SHARES = (0.1, 0.25, 0.4)
LOWERS = 0.015
"""A second refrigerant counts that lowers the logarithm of the pressure by so much [-]."""
PRIORS = {
    "none": (0.0, 0.005, 0.03),
    "0.5 %, 3 % at most": (0.25, 0.005, 0.03),
    "0.8 %, 7 % at most": (0.25, 0.008, 0.07),
}
"""Share of cylinders with oil, mean of what it takes of the pressure, and its end [-]."""
OFFSETS = {"oil takes 1.5 %": -0.015, "oil takes 4 %": -0.04, "clean": 0.0, "5 % of air": 0.05}


def engine_with(share: float, mean: float, most: float) -> VerdictEngine:
    """An engine of which only the prior of oil is another; the grid's cells grow with its end."""
    edges = most / 0.03 * np.array([0.0, 0.002, 0.005, 0.009, 0.016, 0.03])
    prevalence = replace(load_prevalence(), oil_share=share)
    with (
        patch.object(quadrature_grids, "MEAN_OIL", mean),
        patch.object(quadrature_grids, "MOST_OIL", most),
        patch.object(quadrature_grids, "oil_grid", lambda: quadrature_grids._oil(edges)),
    ):
        return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), prevalence)


def mixtures(engine: VerdictEngine) -> Iterator[tuple[str, float]]:
    """Host and logarithm of the pressure of each mixture that lowers it."""
    space, at = engine.space, chebyshev.values(np.array([TEMP_K]))[:, 0]
    block = space.blocks["mixed"]
    for host in HOSTS:
        first = block.start + space.designations.index(host) * block.shape[1] * block.shape[2]
        alone = np.log(float(load_curves().bubble_pressure_pa(host, TEMP_K)))
        for second in SECONDS:
            for share in SHARES:
                place = list(space.contaminants).index(second) * block.shape[2]
                row = first + place + int(np.abs(space.share.nodes - share).argmin())
                found = float((space.coefficients[row].astype(float) + space.reference) @ at)
                if found < alone - LOWERS:
                    yield host, found


def cases(engine: VerdictEngine, each: int) -> dict[str, list[tuple[str, float]]]:
    """Host and logarithm of the true pressure, by kind."""
    found = {"another refrigerant": [one for one in mixtures(engine) for _ in range(max(1, each // 2))]}
    for kind, offset in OFFSETS.items():
        found[kind] = [
            (host, np.log(float(load_curves().bubble_pressure_pa(host, TEMP_K))) + offset)
            for host in HOSTS
            for _ in range(each)
        ]
    return found


def read(log_pressure: float, tool: Instrument, rng: np.random.Generator) -> Pair:
    """One reading: noise, and errors drawn from what the instrument states."""
    off_k = rng.normal(0, np.hypot(tool.temp_bias_k, tool.temp_noise_k))
    off_pa = rng.normal(0, np.hypot(tool.zero_bias_pa, tool.noise_pa))
    pressure = np.exp(log_pressure) * (1 + rng.normal(0, tool.gain_bias)) + off_pa
    return Pair(
        TEMP_K + off_k,
        float(pressure),
        tool.temp_noise_k,
        tool.noise_pa,
        tool.temp_bias_k,
        tool.zero_bias_pa,
        tool.gain_bias,
    )


def main() -> None:
    """Draw, judge with each prior, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=12, help="readings of a host and kind")
    parser.add_argument("--seed", type=int, default=3)
    asked = parser.parse_args()
    engines = {name: engine_with(*prior) for name, prior in PRIORS.items()}
    drawn, rng = cases(next(iter(engines.values())), asked.each), np.random.default_rng(asked.seed)
    told: dict[str, dict[str, dict[str, dict[str, float]]]] = {}
    for tool in (one for one in INSTRUMENTS if one.pairs == 1):
        for kind, found in drawn.items():
            counts = {name: Counter() for name in engines}
            for host, log_pressure in tqdm(found, desc=f"{tool.name}: {kind}"):
                pair = read(log_pressure, tool, rng)
                for name, engine in engines.items():
                    verdict = engine.verdict([pair], CylinderFacts(claimed_designation=host))
                    counts[name][verdict.disposition.code] += 1
            for name, count in counts.items():
                shares = {code: number / len(found) for code, number in count.items()}
                told.setdefault(tool.name, {}).setdefault(kind, {})[name] = {"readings": len(found), **shares}
    output("oil_prior.json").write_text(json.dumps({"seed": asked.seed, "shares": told}, indent=1))
    print(json.dumps(told, indent=1))


if __name__ == "__main__":
    main()
