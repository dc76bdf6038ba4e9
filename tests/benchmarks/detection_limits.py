"""Whether stated detection limits are true: power at the limit, and false alarms without contaminant.

    python -m tests.benchmarks.detection_limits

For the ten commonest designations, air and their ten likeliest contaminants, pressures come from direct flashes of
the equation of state: the clean cylinder at random liquid fractions, the mixture at its bubble point (as the
verdict models it) and, reported beside it, in a closed cylinder at random liquid fractions. Writes
`out/detection_limits.json` and a PNG.
"""

from __future__ import annotations

import argparse
import json

import matplotlib as mpl
import numpy as np
from tqdm import tqdm

from service.refrigerants.cylinder_state import at_liquid_fraction, closed_cylinder
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict import chebyshev, detection, detection_test
from service.verdict.engine import VerdictEngine
from service.verdict.evidence import build
from service.verdict.model import CylinderFacts, Pair
from tests.benchmarks.output import output
from tests.benchmarks.truth_cylinders import HOME_K, INSTRUMENTS, Instrument

mpl.use("Agg")
import matplotlib.pyplot as plt

DESIGNATIONS = CONTAMINANTS = 10
FLASHES, CLEAN_FLASHES = 30, 300
"""Cylinders flashed: of each mixture, and of the clean refrigerant, whose nearly empty tail sets the false alarms."""
TEMPS_K = np.array([293.15, 308.15])


class Bench:
    """One designation and one instrument: readings of clean cylinders and the test they are put to."""

    def __init__(self, engine: VerdictEngine, catalogue, name: str, instrument: Instrument) -> None:
        self.engine, self.catalogue, self.name, self.instrument = engine, catalogue, name, instrument
        self.space = engine.space
        self.index = self.space.designations.index(name)
        self.temps = TEMPS_K[: instrument.pairs]
        self.nothing = engine.fill.weights(CylinderFacts())
        clean = np.exp(self.space.clean[self.index] @ chebyshev.values(self.temps))
        self.evidence = build([self._pair(t, p) for t, p in zip(self.temps, clean, strict=True)])
        self.test = detection_test.screen(self.space, self.evidence, self.nothing, self.index)

    def _pair(self, temp: float, pressure: float) -> Pair:
        i = self.instrument
        return Pair(
            float(temp),
            float(pressure),
            i.temp_noise_k,
            i.noise_pa,
            i.temp_bias_k,
            i.zero_bias_pa,
            i.gain_bias,
        )

    def fills(self, rng: np.random.Generator, count: int) -> np.ndarray:
        """Liquid fractions from the prior, evenly spread in probability."""
        grid = self.space.fill
        level = (np.arange(count) + rng.random()) / count
        return np.minimum(np.interp(level, np.concatenate([[0.0], np.cumsum(grid.mass)]), grid.edges), 0.95)

    def closed(self, equation: EquationOfState, fills: np.ndarray) -> np.ndarray:
        """True ln P [cylinders, temps] of those closed cylinders that keep liquid, by direct flashes."""
        rows = []
        for fill in fills:
            home = at_liquid_fraction(equation, HOME_K, float(fill))
            density = equation.molar_mass_kg_mol / home.molar_volume_m3
            found = [closed_cylinder(equation, float(t), density) for t in self.temps]
            if all(one.contents == "two-phase" for one in found):
                rows.append([np.log(one.pressure_pa) for one in found])
        return np.array(rows)

    def bubble(self, equation: EquationOfState) -> np.ndarray:
        """True ln P [temps] at the bubble point."""
        return np.array([np.log(equation.bubble(float(t)).pressure_pa) for t in self.temps])

    def residuals(self, rng: np.random.Generator, log_pressure: np.ndarray, error: np.ndarray) -> np.ndarray:
        """Residuals [n, temps] of readings of cylinders at true ln P [n, temps]."""
        i, count = self.instrument, log_pressure.shape[0]
        pressure = np.exp(log_pressure + error[:, None])
        shown = pressure * (1 + rng.normal(0, i.gain_bias, count))[:, None]
        shown += rng.normal(0, i.zero_bias_pa, count)[:, None] + rng.normal(0, i.noise_pa, pressure.shape)
        temp = self.temps + rng.normal(0, i.temp_bias_k, count)[:, None]
        temp = temp + rng.normal(0, i.temp_noise_k, pressure.shape)
        clean = self.space.clean[self.index] @ chebyshev.values(temp.ravel())
        return np.log(shown) - clean.reshape(temp.shape)

    def shown(self, residuals: np.ndarray, change: np.ndarray) -> float:
        """Share of readings that the test shows along a change of ln P."""
        threshold, _ = self.test.thresholds(change[None])
        return float((self.test.statistic(residuals, change) > threshold[0]).mean())


def run_one(bench: Bench, rng: np.random.Generator, draws: int) -> list[dict[str, object]]:
    """False alarms and power for air and every likely contaminant of one designation."""
    own = bench.engine.book.priors(CylinderFacts(), "field")
    equation = EquationOfState(mixed_composition_of(bench, None, 0.0))
    clean = bench.closed(equation, bench.fills(rng, CLEAN_FLASHES))
    at = rng.integers(0, clean.shape[0], draws)
    spread = float(bench.space.curve_uncertainty[bench.index])
    error = rng.normal(0, spread, draws)
    resting = bench.residuals(rng, clean[at], error)
    limits = detection.limits(bench.space, bench.evidence, own, bench.test, CONTAMINANTS)
    rows = []
    for limit in limits:
        if limit.mass_fraction is None and limit.partial_pressure_pa is None:
            rows.append({"designation": bench.name, "contaminant": limit.contaminant, "limit": None})
            continue
        rows.append(_row(bench, rng, limit, clean, at, error, resting))
    return rows


def mixed_composition_of(bench: Bench, contaminant: str | None, share: float):
    """Composition of the designation, or of a mixture."""
    own = bench.catalogue[bench.name]
    if contaminant is None:
        from service.refrigerants.catalogue_builder import composition_of

        return composition_of(own)
    return mixed_composition(own, bench.catalogue[contaminant], share)


def _row(bench, rng, limit, clean, at, error, resting) -> dict[str, object]:
    if limit.partial_pressure_pa is not None:
        amount = limit.partial_pressure_pa
        change = detection.air_change(bench.space, bench.evidence, bench.index, np.array([amount]))[0]
        dirty = np.log(np.exp(clean) + amount * bench.temps / 298.15)
        power_bubble = power = bench.shown(bench.residuals(rng, dirty[at], error), change)
    else:
        amount = limit.mass_fraction
        s = bench.space.contaminants.index(limit.contaminant)
        table = detection.mixture_change(bench.space, bench.evidence, bench.index, np.array([s]))[0]
        shares = np.concatenate([[0.0], bench.space.share.nodes])
        change = np.array([np.interp(amount, shares, np.concatenate([[0.0], column])) for column in table.T])
        equation = EquationOfState(mixed_composition_of(bench, limit.contaminant, amount))
        pure = EquationOfState(mixed_composition_of(bench, None, 0.0))
        shift = bench.bubble(equation) - bench.bubble(pure)
        power_bubble = bench.shown(bench.residuals(rng, clean[at] + shift, error), change)
        try:
            closed = bench.closed(equation, bench.fills(rng, FLASHES))
            among = closed[at % closed.shape[0]]
            power = bench.shown(bench.residuals(rng, among, error), change)
        except NoConvergence:
            power = float("nan")
    return {
        "designation": bench.name,
        "contaminant": limit.contaminant,
        "limit": amount,
        "power": power_bubble,
        "power_closed_cylinder": power,
        "false_alarm": bench.shown(resting, change),
    }


def main() -> None:
    """Simulate, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--draws", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=5)
    arguments = parser.parse_args()
    rng = np.random.default_rng(arguments.seed)
    catalogue, prevalence = load_catalogue(), load_prevalence()
    engine = VerdictEngine(load_curves(), load_surfaces(), catalogue, prevalence)
    names = sorted(prevalence.weights, key=lambda name: -prevalence.weights[name])[:DESIGNATIONS]
    report = []
    for instrument in (INSTRUMENTS[1], INSTRUMENTS[4]):
        for name in tqdm(names, desc=instrument.name, unit="designation"):
            bench = Bench(engine, catalogue, name, instrument)
            report += [{"instrument": instrument.name, **row} for row in run_one(bench, rng, arguments.draws)]
    output("detection_limits.json").write_text(json.dumps(report, indent=1))
    _plot(report)
    _print(report)


def _print(report: list[dict[str, object]]) -> None:
    seen = [row for row in report if row["limit"] is not None]
    power = np.array([row["power"] for row in seen])
    closed = np.array([row["power_closed_cylinder"] for row in seen])
    alarm = np.array([row["false_alarm"] for row in seen])
    print(f"{len(report)} limits, {len(report) - len(seen)} of them: cannot be seen")
    print(
        f"power {power.min():.3f} to {power.max():.3f}, mean {power.mean():.3f}; "
        f"within 0.90 to 0.97: {((power >= 0.9) & (power <= 0.97)).mean():.3f}"
    )
    print(
        f"closed cylinder: {np.nanmin(closed):.3f} to {np.nanmax(closed):.3f}, mean {np.nanmean(closed):.3f}"
    )
    print(
        f"false alarm {alarm.min():.3f} to {alarm.max():.3f}, mean {alarm.mean():.3f}; "
        f"at most 0.05: {(alarm <= 0.05).mean():.3f}"
    )
    for row in seen:
        if not 0.9 <= row["power"] <= 0.97 or row["false_alarm"] > 0.055:
            print(row)


def _plot(report: list[dict[str, object]]) -> None:
    seen = [row for row in report if row["limit"] is not None]
    figure, axis = plt.subplots(figsize=(7, 4.5))
    axis.axhspan(0.90, 0.97, color="0.92")
    axis.scatter([r["false_alarm"] for r in seen], [r["power"] for r in seen], s=10, label="bubble point")
    axis.scatter(
        [r["false_alarm"] for r in seen], [r["power_closed_cylinder"] for r in seen], s=10, marker="x",
        label="closed cylinder",
    )  # fmt: skip
    axis.axvline(0.05, color="0.6", lw=1)
    axis.set(xlabel="false-alarm rate", ylabel="power at the stated limit")
    axis.legend()
    figure.tight_layout()
    figure.savefig(output("detection_limits.png"), dpi=130)
    plt.close(figure)


if __name__ == "__main__":
    main()
