"""Counterfeits and blends that read like the label's refrigerant: ``python -m tests.benchmarks.look_alikes``.

Contents are drawn from substances that industry warnings name, so that their pressure lies within 3 % of the label's
refrigerant at the temperature of the reading; pressures by the equation of state. Each is told (contradicted, held, or
contaminated), warned of (something as hazardous is on the cautions), named (its most hazardous component is), or passed
in silence. Writes ``look_alikes.json``.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from service.refrigerants.composition import from_mass
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence, molar_mass_kg_mol
from service.refrigerants.look_alikes import components_of
from service.settings import InstrumentDefaults
from service.store.artefacts import load_catalogue, load_curves
from service.verdict.engine import VerdictEngine
from service.verdict.look_alike_book import HAZARDS
from service.verdict.model import CylinderFacts, Pair, Verdict
from service.wiring import verdict_engine
from tests.benchmarks.output import output

NEAR = 0.03
USUAL = InstrumentDefaults()
CATALOGUE = load_catalogue()


@dataclass(frozen=True)
class Trade:
    """Contents of one kind: what they are made of, the label, the temperature [K], most parts."""

    kind: str
    substances: tuple[str, ...]
    label: str
    temp_k: float = 297.15
    parts: int = 3


TRADES = (
    Trade("counterfeit R-134a", ("R-40", "R-22", "R-142b", "R-152a", "R-12"), "R-134a"),
    Trade("counterfeit R-22", ("R-40", "R-290", "R-152a", "R-32", "R-134a"), "R-22"),
    Trade("hydrocarbons for R-12", ("R-290", "R-600a", "R-600"), "R-12"),
    Trade("hydrocarbons for R-134a", ("R-290", "R-600a", "R-E170"), "R-134a"),
    Trade("hydrocarbons for R-22", ("R-290", "R-1270", "R-600a", "R-170"), "R-22"),
    Trade("retrofits in R-22", ("R-22", "R-421A", "R-422D", "R-422B", "R-438A", "R-417A"), "R-22", parts=2),
    Trade("ammonia at the crossing", ("R-717",), "R-22", 311.15, 1),
)


def pressure_pa(recipe: dict[str, float], temp_k: float) -> float | None:
    """Bubble pressure of designations by mass, by the equation of state [Pa]."""
    parts = components_of(recipe, CATALOGUE)
    composition = from_mass(parts, {name: molar_mass_kg_mol(name) for name in parts})
    try:
        return EquationOfState(composition).bubble(temp_k).pressure_pa
    except NoConvergence:
        return None


def drawn(trade: Trade, count: int, rng: np.random.Generator) -> Iterator[tuple[dict[str, float], float]]:
    """Contents that read like the label within `NEAR`, each with its pressure [Pa]."""
    aim = float(load_curves().bubble_pressure_pa(trade.label, trade.temp_k))
    found = 0
    for _ in range(100 * count):
        size = int(rng.integers(1, trade.parts + 1))
        names = rng.choice(trade.substances, size=min(size, len(trade.substances)), replace=False)
        recipe = dict(zip(names.tolist(), rng.dirichlet(np.ones(names.size)).tolist(), strict=True))
        pressure = None if recipe.keys() == {trade.label} else pressure_pa(recipe, trade.temp_k)
        if pressure is None or abs(pressure / aim - 1) > NEAR:
            continue
        yield recipe, pressure
        found += 1
        if found == count:
            return


def danger(engine: VerdictEngine, recipe: dict[str, float]) -> tuple[int, set[str]]:
    """The worst hazard of what makes up a tenth and more, and which parts bring it."""
    parts = [name for name, share in recipe.items() if share >= 0.1]
    worst = engine.look_alikes.hazard(parts)
    return worst, {name for name in parts if engine.look_alikes.hazard((name,)) == worst}


def outcome(engine: VerdictEngine, recipe: dict[str, float], label: str, verdict: Verdict) -> str:
    """`told`, `named`, `warned`, `harmless` or `silent`."""
    contradicted = verdict.claim is not None and verdict.claim.finding == "contradicted"
    if contradicted or verdict.disposition.code != "keep":
        return "told"
    worst, dangerous = danger(engine, recipe)
    same = verdict.reads_the_same
    groups = () if same is None else same.groups
    named = {name for group in groups for example in group.examples for name in example.mass_fractions}
    if dangerous & named:
        return "named"
    if worst >= min(engine.look_alikes.hazard((label,)), HAZARDS.index("unknown")):
        return "harmless"
    loud = same is not None and same.loud
    return "warned" if loud and any(HAZARDS.index(group.hazard) <= worst for group in groups) else "silent"


def score(engine: VerdictEngine, trade: Trade, count: int, seed: int) -> Counter[str]:
    """Outcomes of so many contents of one kind, read once with the usual instruments."""
    rng = np.random.default_rng(seed)
    found: Counter[str] = Counter()
    for recipe, pressure in drawn(trade, count, rng):
        pair = Pair(
            trade.temp_k + rng.normal(0, USUAL.temperature_bias_k) / 2,
            pressure + rng.normal(0, USUAL.pressure_bias_pa),
            USUAL.temperature_k,
            USUAL.pressure_pa,
            USUAL.temperature_bias_k,
            USUAL.pressure_bias_pa,
        )
        verdict = engine.verdict([pair], CylinderFacts(claimed_designation=trade.label))
        found[outcome(engine, recipe, trade.label, verdict)] += 1
    return found


def main(arguments: Sequence[str] | None = None) -> None:
    """Score every trade and print the shares."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--contents", type=int, default=100)
    parser.add_argument("--seed", type=int, default=5)
    options = parser.parse_args(arguments)
    engine = verdict_engine("north-america")
    table = {trade.kind: dict(score(engine, trade, options.contents, options.seed)) for trade in TRADES}
    for kind, found in table.items():
        print(f"{kind:26}", ", ".join(f"{name} {number}" for name, number in sorted(found.items())))
    output("look_alikes.json").write_text(json.dumps(table, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
