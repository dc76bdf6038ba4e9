"""Following the verdict's next measurement, against repeating the same one and a fixed warm-by-15-K rule.

    python -m tests.benchmarks.next_measurements --cylinders 300

Unlabelled cylinders are drawn from the priors; each rule measures up to five times, pressures by direct flashes. A
detector, a line on the wall and an analyser answer as often wrong as the verdict takes them to.
Counted after each measurement: the share of cylinders whose verdict is `identified`, and of those that are right.
Writes `out/next_measurements.json` and a PNG.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass, replace

import matplotlib as mpl
import numpy as np
from tqdm import tqdm

from service.refrigerants.equation_of_state import NoConvergence
from service.verdict.measurement_options import BY_INSTRUMENT
from service.verdict.measurement_outcomes import LEVEL_UNCERTAINTY
from service.verdict.model import CylinderFacts, Pair, Verdict
from service.verdict.observations import (
    ANALYSER_TRUST,
    ANALYSER_UNCERTAINTY,
    LEVEL_TRUST,
    Composition,
    LiquidLevel,
    Observations,
)
from service.verdict.observing import ENOUGH
from tests.benchmarks.output import output
from tests.benchmarks.truth_cylinders import INSTRUMENTS, Cylinder, Instrument, Nature
from tests.benchmarks.truth_machine import build_bench, draw

mpl.use("Agg")
import matplotlib.pyplot as plt

STEPS = 5
ROOM_K = 293.15
HOTTEST_K = 318.15
COARSE = INSTRUMENTS[0]
FINER = replace(COARSE, name="calibrated thermometer", temp_bias_k=0.1)
VOLUME_M3 = 0.0216


class Errors:
    """Biases of the instruments at hand, drawn once per cylinder so that every rule meets the same ones."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.thermometer = {
            False: self.rng.normal(0, COARSE.temp_bias_k),
            True: self.rng.normal(0, FINER.temp_bias_k),
        }
        self.gain = self.rng.normal(0, COARSE.gain_bias)
        self.zero = {False: self.rng.normal(0, COARSE.zero_bias_pa), True: self.rng.normal(0, 300.0)}

    def read(self, temp: float, pressure: float, finer: bool, zeroed: bool) -> Pair:
        """One reading with whichever instruments."""
        thermometer: Instrument = FINER if finer else COARSE
        zero = 300.0 if zeroed else COARSE.zero_bias_pa
        shown = pressure * (1 + self.gain) + self.zero[zeroed] + self.rng.normal(0, COARSE.noise_pa)
        return Pair(
            temp_k=temp + self.thermometer[finer] + self.rng.normal(0, COARSE.temp_noise_k),
            pressure_pa=max(200.0, shown),
            temp_noise_k=COARSE.temp_noise_k,
            pressure_noise_pa=COARSE.noise_pa,
            temp_bias_k=thermometer.temp_bias_k,
            pressure_bias_pa=zero,
            gain_bias=COARSE.gain_bias,
            temperature_device="finer" if finer else "clamp",
            pressure_device="zeroed" if zeroed else "gauge",
        )


@dataclass
class Kit:
    """What is used for the next measurement; `asked` is what else than a pair is measured."""

    finer: bool = False
    zeroed: bool = False
    asked: str | None = None


Rule = Callable[[int, Verdict, Kit], float]


def repeat(_step: int, _verdict: Verdict, _kit: Kit) -> float:
    """The same measurement again."""
    return ROOM_K


def warm_by_15(step: int, _verdict: Verdict, _kit: Kit) -> float:
    """Warmer by 15 K each time as far as is safe, then from the start again."""
    temps = (ROOM_K, ROOM_K + 15.0)
    return temps[step % 2]


def follow(_step: int, verdict: Verdict, kit: Kit) -> float:
    """What the verdict asks for."""
    following = verdict.next_measurement
    kit.finer |= following.code == "better-thermometer"
    kit.zeroed |= following.code == "zero-gauge"
    if following.code in {"weigh", *BY_INSTRUMENT}:
        kit.asked = following.code
    return following.temp_k if following.temp_k is not None else ROOM_K


RULES: dict[str, Rule] = {"repeat": repeat, "warm by 15 K": warm_by_15, "follow the verdict": follow}


def true_pressure(nature: Nature, cylinder: Cylinder, temp: float) -> float:
    """Pressure of one cylinder at any temperature, by direct flash."""
    temps = np.array([temp])
    factor = np.exp(cylinder.extra["curve_error"])
    if cylinder.state == "mixed":
        value = nature.mixture(cylinder.designation, cylinder.partner, cylinder.amount, temps)
    elif "density" not in cylinder.extra and cylinder.state != "air":
        # Shifted, or so little that it counts as clean.
        value = nature.shifted(cylinder.designation, cylinder.amount, temps)
    elif cylinder.state == "air":
        shadow = replace(cylinder, temps_k=temps)
        value = nature.with_air(shadow, cylinder.amount, cylinder.extra["solubility"])
    else:
        value = nature.closed(cylinder.designation, cylinder.extra["density"], temps)[0]
    return float(value[0]) * factor


def run(bench, cylinder: Cylinder, rule: Rule, seed: int) -> list[tuple[bool, bool]]:
    """Identified, and right, after each measurement; stays where it was once nothing is worth measuring."""
    errors, kit = Errors(seed), Kit()
    facts = CylinderFacts(water_volume_m3=VOLUME_M3)
    pairs: list[Pair] = []
    temp, course = ROOM_K, []
    for step in range(STEPS):
        if kit.asked is None or not pairs:
            pressure = true_pressure(bench.nature, cylinder, temp)
            pairs.append(errors.read(temp, pressure, kit.finer, kit.zeroed))
        elif kit.asked == "weigh":
            facts = replace(facts, net_mass_kg=net_mass(bench, cylinder))
        else:
            facts = replace(
                facts, observations=observe(bench, cylinder, kit.asked, facts.observations, errors.rng)
            )
        verdict = bench.engine.verdict(pairs, facts)
        found = verdict.identity
        done = found.finding == "identified"
        course.append((done, done and found.candidates[0].designation == cylinder.designation))
        kit.asked = None
        temp = min(rule(step + 1, verdict, kit), HOTTEST_K)
    return course


def observe(
    bench, cylinder: Cylinder, what: str, seen: Observations, rng: np.random.Generator
) -> Observations:
    """What a detector, a line on the wall or an analyser says of a cylinder."""
    book, space = bench.engine.observed, bench.engine.space
    index = space.designations.index(cylinder.designation)
    partner = space.designations.index(cylinder.partner) if cylinder.state == "mixed" else index
    share = cylinder.amount if cylinder.state == "mixed" else 0.0
    if what == "combustible-gas":
        chance = book.sounds[index]
        if share > ENOUGH:
            chance = max(chance, book.sounds[partner])
        return replace(seen, combustible_gas=bool(rng.random() < chance))
    if what == "liquid-level":
        wrong = rng.random() > LEVEL_TRUST
        level = rng.random() if wrong else cylinder.fill + rng.normal(0.0, LEVEL_UNCERTAINTY)
        return replace(seen, liquid=LiquidLevel(float(np.clip(level, 0.0, 1.0)), LEVEL_UNCERTAINTY))
    names = list(space.designations)
    if rng.random() > ANALYSER_TRUST:
        found = {names[int(rng.integers(len(names)))]: 1.0}
    else:
        measured = float(np.clip(share + rng.normal(0.0, ANALYSER_UNCERTAINTY), 0.0, 1.0)) if share else 0.0
        found = (
            {cylinder.designation: 1.0 - measured, names[partner]: measured} if share else {names[index]: 1.0}
        )
    return replace(seen, compositions=(Composition(found, ANALYSER_UNCERTAINTY, ANALYSER_TRUST),))


def net_mass(bench, cylinder: Cylinder) -> float:
    """What the scale shows [kg]; for a mixture, with the densities of the main refrigerant."""
    if "density" in cylinder.extra:
        return float(VOLUME_M3 * cylinder.extra["density"])
    index = bench.engine.space.designations.index(cylinder.designation)
    liquid, vapour = bench.engine.fill.liquid[index], bench.engine.fill.vapour[index]
    return float(VOLUME_M3 * (cylinder.fill * liquid + (1 - cylinder.fill) * vapour))


def main() -> None:
    """Simulate three rules, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cylinders", type=int, default=300)
    parser.add_argument("--seed", type=int, default=11)
    arguments = parser.parse_args()
    rng = np.random.default_rng(arguments.seed)
    bench = build_bench()
    # Neither vapor alone nor mixtures of three, whose parts no other measurement is simulated of.
    cylinders = [
        c
        for c in draw(bench, arguments.cylinders, rng)
        if c.state != "vapour-only" and (c.state != "mixed" or c.partner is not None)
    ]
    for cylinder in cylinders:
        cylinder.extra["solubility"] = max(0.2, rng.normal(0.6, 0.15))
    courses: dict[str, list[list[tuple[bool, bool]]]] = {name: [] for name in RULES}
    for number, cylinder in enumerate(tqdm(cylinders, desc="Measuring", unit="cylinder")):
        try:
            found = {name: run(bench, cylinder, rule, number) for name, rule in RULES.items()}
        except NoConvergence:
            continue
        for name, course in found.items():
            courses[name].append(course)
    report = {name: _summary(found) for name, found in courses.items()}
    output("next_measurements.json").write_text(json.dumps(report, indent=1))
    _plot(report)
    for name, row in report.items():
        print(name, json.dumps(row))


def _summary(found: list[list[tuple[bool, bool]]]) -> dict[str, object]:
    table = np.array(found)
    first = np.array([next((i + 1 for i, (done, _) in enumerate(c) if done), STEPS + 1) for c in found])
    identified = table[:, :, 0]
    return {
        "cylinders": len(found),
        "identified": identified.mean(axis=0).round(4).tolist(),
        "identified_and_right": table[:, :, 1].mean(axis=0).round(4).tolist(),
        "right_of_identified": (table[:, :, 1].sum(axis=0) / np.maximum(identified.sum(axis=0), 1))
        .round(4)
        .tolist(),
        "mean_measurements_to_identified_capped": float(first.mean().round(3)),
    }


def _plot(report: dict[str, dict[str, object]]) -> None:
    figure, axis = plt.subplots(figsize=(6, 4))
    for name, row in report.items():
        axis.plot(range(1, STEPS + 1), row["identified_and_right"], marker="o", label=name)
    axis.set(xlabel="measurements", ylabel="identified and right", xticks=range(1, STEPS + 1))
    axis.legend()
    figure.tight_layout()
    figure.savefig(output("next_measurements.png"), dpi=130)
    plt.close(figure)


if __name__ == "__main__":
    main()
