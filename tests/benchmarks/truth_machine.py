"""The truth machine: cylinders of known contents, judged by the verdict, brute force, and nearest curve.

    python -m tests.benchmarks.truth_machine --cylinders 1500

Writes `out/truth_machine.json` and PNG plots beside it.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from tqdm import tqdm

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict import detection, detection_test
from service.verdict.engine import VerdictEngine
from service.verdict.evidence import build
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts, Pair
from service.verdict.priors import field_weights
from tests.benchmarks import truth_plots
from tests.benchmarks.flashes import Flashed, flashed
from tests.benchmarks.output import output
from tests.benchmarks.truth_cylinders import INSTRUMENTS, Cylinder, Nature, read
from tests.benchmarks.truth_exact import ExactPosterior, Judged
from tests.benchmarks.truth_scores import Case, by_size, every_probability, finding, reliability, summary

_SHOWN = 1e-6
NARROW = {"oil_share": 1e-9, "several_share": 1e-9}
"""Of an engine that knows neither dissolved oil nor mixtures of three: what the verdict was before it did."""
REST = 1e-6
"""The table's own designations are drawn, so the engine's prior for all others is set to this."""


@dataclass(slots=True)
class Bench:
    """Everything that judges."""

    engine: VerdictEngine
    shipped: VerdictEngine
    narrow: VerdictEngine
    exact: ExactPosterior
    nature: Nature
    curves: dict[str, Flashed]
    names: tuple[str, ...]
    where: np.ndarray


def build_bench(most: int | None = None) -> Bench:
    """Engine, brute force and nature over the North American table, or so many of its commonest designations."""
    catalogue, curves, surfaces, prevalence = (
        load_catalogue(),
        load_curves(),
        load_surfaces(),
        load_prevalence(),
    )
    ranked = tuple(sorted(prevalence.weights, key=lambda name: -prevalence.weights[name]))[:most]
    met = field_weights(prevalence, curves.designations)
    met = met[[curves.index(name) for name in surfaces.contaminants]]
    prevalence = replace(prevalence, weights={name: prevalence.weights[name] for name in ranked})
    engine = VerdictEngine(curves, surfaces, catalogue, replace(prevalence, other_share=REST))
    shipped = VerdictEngine(curves, surfaces, catalogue, prevalence)
    narrow = VerdictEngine(curves, surfaces, catalogue, replace(prevalence, other_share=REST, **NARROW))
    found = flashed(catalogue, ranked, surfaces.contaminants, met)
    names = tuple(name for name in ranked if np.isfinite(found[name].bubble).all())
    found = {name: found[name] for name in names}
    space = engine.space
    index = {name: space.designations.index(name) for name in space.designations}
    mixing = np.nan_to_num(np.asarray(surfaces.mixture_uncertainty, dtype=float))
    exact = ExactPosterior(
        found,
        surfaces.contaminants,
        {name: float(space.curve_uncertainty[index[name]]) for name in space.designations},
        {name: mixing[index[name]] for name in names},
    )
    where = np.array([index[name] for name in names])
    nature = Nature(catalogue, space, names, mixing, met)
    return Bench(engine, shipped, narrow, exact, nature, found, names, where)


def draw(bench: Bench, count: int, rng: np.random.Generator) -> list[Cylinder]:
    """That many cylinders from the priors."""
    priors = bench.engine.book.priors(CylinderFacts(), "field")
    reliability_of_labels = bench.engine.book.prevalence.label_reliability
    cylinders: list[Cylinder] = []
    with tqdm(total=count, desc="Drawing cylinders", unit="cylinder") as bar:
        while len(cylinders) < count:
            cylinder = bench.nature.draw(rng, priors, reliability_of_labels)
            if cylinder is not None and np.isfinite(cylinder.pressures_pa).all():
                cylinders.append(cylinder)
                bar.update()
    return cylinders


def by_engine(engine: VerdictEngine, pairs: list[Pair], facts: CylinderFacts) -> tuple[Judged, float]:
    """Posterior of the engine, and how long it took [s]."""
    begin = time.perf_counter()
    found = engine.infer(pairs, facts)
    seconds = time.perf_counter() - begin
    named = found.identity / max(float(found.identity.sum()), 1e-300)
    identity = dict(zip(engine.space.designations, named.tolist(), strict=True))
    return Judged(identity, {name: float(v.sum()) for name, v in found.by_state.items()}), seconds


def by_nearest_curve(bench: Bench, pairs: list[Pair], priors: np.ndarray) -> Judged:
    """A person with a perfect chart: the clean curve nearest to the readings, ties to the commoner."""
    temp = np.array([p.temp_k for p in pairs])
    clean = bench.engine.space.clean[bench.where] @ _basis(temp)
    away = np.abs(np.log([p.pressure_pa for p in pairs]) - clean).mean(axis=1)
    best = int(np.lexsort((-priors, away))[0])
    return Judged({bench.names[best]: 1.0}, {"none": 1.0})


def _basis(temp: np.ndarray) -> np.ndarray:
    from service.verdict import chebyshev

    return chebyshev.values(temp)


def contamination_size(bench: Bench, cylinder: Cylinder, pairs: list[Pair]) -> tuple[float, bool | None]:
    """Standard deviations by which it stands out from its clean curve, and whether above the stated limit."""
    engine = bench.engine
    space = engine.space
    evidence = build(condense(pairs))
    index = space.designations.index(cylinder.designation)
    test = detection_test.screen(space, evidence, engine.fill.weights(CylinderFacts()), index)
    if cylinder.state == "air":
        change = detection.air_change(space, evidence, index, np.array([cylinder.amount]))[0]
        limit = detection.air_limit(space, evidence, test).partial_pressure_pa
    elif cylinder.state == "mixed" and cylinder.partner is None:
        pressures = np.log(cylinder.pressures_pa[: evidence.count])
        change = pressures - space.clean[index] @ _basis(cylinder.temps_k[: evidence.count])
        return float(test.shift(change)), None
    elif cylinder.state == "mixed":
        partner = np.array([space.contaminants.index(cylinder.partner)])
        table = detection.mixture_change(space, evidence, index, partner)[0]
        change = np.array([np.interp(cylinder.amount, space.share.nodes, column) for column in table.T])
        limit = detection.mixture_limits(space, evidence, test, partner)[0].mass_fraction
    elif cylinder.state == "shifted":
        block = space.blocks["shifted"]
        rows = block.start + index * block.shape[1] + np.arange(block.shape[1])
        clean = space.clean[index] @ _basis(evidence.temp_k)
        table = space.log_pressure(evidence.temp_k, rows) - clean
        change = np.array([np.interp(cylinder.amount, space.loss.nodes, column) for column in table.T])
        return float(test.shift(change)), None
    else:
        return 0.0, None
    return float(test.shift(change)), limit is not None and cylinder.amount >= limit


def judge_all(bench: Bench, cylinders: list[Cylinder], rng: np.random.Generator, exact: bool) -> list[Case]:
    """Every cylinder by every instrument and judge, with and without its label."""
    cases: list[Case] = []
    jury = Jury(bench, exact)
    for instrument in INSTRUMENTS:
        for cylinder in tqdm(cylinders, desc=instrument.name, unit="cylinder"):
            pairs = read(rng, cylinder, instrument)
            shift, above = contamination_size(bench, cylinder, pairs)
            for labelled, judge, found, seconds in jury.judged(cylinder, pairs):
                cases.append(
                    Case(
                        judge=judge,
                        instrument=instrument.name,
                        labelled=labelled,
                        designation=cylinder.designation,
                        state=cylinder.state,
                        amount=cylinder.amount,
                        identity=_worth_keeping(found.identity),
                        states=found.states,
                        finding=finding(found.states, bench.engine.settings),
                        label_right=labelled and cylinder.label == cylinder.designation,
                        above_limit=above,
                        shift=shift,
                        seconds=seconds,
                    )
                )
    return cases


def _worth_keeping(identity: dict[str, float]) -> dict[str, float]:
    """What is not negligible, and the first one in any case."""
    first = max(identity, key=lambda name: identity[name])
    return {name: p for name, p in identity.items() if p > _SHOWN or name == first}


class Jury:
    """All judges on one cylinder's readings."""

    def __init__(self, bench: Bench, exact: bool) -> None:
        self.bench, self.exact = bench, exact
        unlabelled = bench.engine.book.priors(CylinderFacts(), "field")
        self._base = unlabelled.designation[bench.where]
        self._base_prior = bench.exact.log_prior(unlabelled, bench.where)

    def judged(self, cylinder: Cylinder, pairs: list[Pair]) -> Iterator[tuple[bool, str, Judged, float]]:
        """With the label, by whom, what was found, in how many seconds."""
        bench, none = self.bench, float("nan")
        likelihood = bench.exact.log_likelihood(pairs) if self.exact else None
        for labelled in (False, True):
            facts = CylinderFacts(claimed_designation=cylinder.label if labelled else None)
            yield labelled, "verdict", *by_engine(bench.engine, pairs, facts)
            yield labelled, "knows no oil", *by_engine(bench.narrow, pairs, facts)
            priors = bench.engine.book.priors(facts, "field").designation[bench.where]
            yield labelled, "nearest curve", by_nearest_curve(bench, pairs, priors), none
            if likelihood is None:
                continue
            prior = bench.exact.relabelled(self._base_prior, self._base, priors)
            yield labelled, "exact", bench.exact.judge(likelihood, prior, max(p.temp_k for p in pairs)), none
            if not labelled:
                yield labelled, "as shipped", *by_engine(bench.shipped, pairs, facts)


def select(cases: list[Case], judge: str, instrument: str, labelled: bool) -> list[Case]:
    """Cases of one row."""
    return [c for c in cases if c.judge == judge and c.instrument == instrument and c.labelled is labelled]


def targets(report: list[dict[str, object]]) -> list[dict[str, object]]:
    """Each target of the project against what was measured, row by row."""
    found = []
    rows = {(r["instrument"], r["labelled"], r["judge"]): r for r in report}
    for (instrument, labelled, judge), row in rows.items():
        if judge != "verdict":
            continue
        checks = {
            "coverage 0.94 to 0.985": 0.94 <= row["coverage"] <= 0.985,
            "calibration error at most 0.02": row["calibration_error"] <= 0.02,
            "clean called contaminated at most 0.02": row["false_alarm"] <= 0.02,
        }
        if best := rows.get((instrument, labelled, "exact")):
            checks["right first within 0.01 of exact"] = best["right_first"] - row["right_first"] <= 0.01
            checks["false clean at most exact + 0.01"] = row["false_clean"] - best["false_clean"] <= 0.01
        if labelled:
            checks["above limit, label right: none-detected at most 0.01"] = (
                row["false_clean_above_limit_label_right"] <= 0.01
            )
        found += [
            {"instrument": instrument, "labelled": labelled, "target": name, "met": bool(met)}
            for name, met in checks.items()
        ]
    return found


def main() -> None:
    """Draw, judge, count, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cylinders", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--designations", type=int, help="the commonest so many of the table; without it all")
    parser.add_argument(
        "--no-exact", action="store_true", help="leave the brute force out: many more cylinders"
    )
    arguments = parser.parse_args()
    rng = np.random.default_rng(arguments.seed)
    bench = build_bench(arguments.designations)
    cylinders = draw(bench, arguments.cylinders, rng)
    cases = judge_all(bench, cylinders, rng, not arguments.no_exact)
    report, curves = [], {}
    judges = ("verdict", "knows no oil", "as shipped", "exact", "nearest curve")
    for instrument in INSTRUMENTS:
        for labelled in (False, True):
            for judge in judges:
                chosen = select(cases, judge, instrument.name, labelled)
                if not chosen:
                    continue
                row = {"instrument": instrument.name, "labelled": labelled, "judge": judge, **summary(chosen)}
                row["false_clean_by_size"] = by_size(chosen)
                report.append(row)
                curves[instrument.name, labelled, judge] = reliability(*every_probability(chosen))
    document = {"seed": arguments.seed, "rows": report, "targets": targets(report)}
    name = "truth_calibration" if arguments.no_exact else "truth_machine"
    output(f"{name}.json").write_text(json.dumps(document, indent=1))
    truth_plots.draw(report, curves, name)
    _print(report, document["targets"])


COLUMNS = (
    ("right_first", ".3f"),
    ("set_size", ".2f"),
    ("coverage", ".3f"),
    ("log_score", ".3f"),
    ("calibration_error", ".3f"),
    ("calibration_floor", ".3f"),
    ("calibration_error_all", ".3f"),
    ("calibration_error_contaminated", ".3f"),
    ("false_clean", ".3f"),
    ("false_clean_above_limit_label_right", ".3f"),
    ("false_alarm", ".3f"),
    ("median_ms", ".1f"),
)


def _print(report: list[dict[str, object]], checked: list[dict[str, object]]) -> None:
    print("| evidence | label | judge | " + " | ".join(name.replace("_", " ") for name, _ in COLUMNS) + " |")
    for row in report:
        values = " | ".join(format(row[name], style) for name, style in COLUMNS)
        print(f"| {row['instrument']} | {'yes' if row['labelled'] else 'no'} | {row['judge']} | {values} |")
    for check in checked:
        if not check["met"]:
            print("MISSED", check)


if __name__ == "__main__":
    main()
