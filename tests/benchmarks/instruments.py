"""Thirty instruments, two hundred cylinders, a year: what learning an instrument's error is worth, and whether it errs.

    python -m tests.benchmarks.instruments --years 4
    python -m tests.benchmarks.instruments --years 4 --stated --coverage-only

Each year has 15 sets of a thermometer and a gauge, some wrong from the start, some dropped in month six. A set learns
from labels alone, never from what it has read itself; verdicts are scored without labels. With `--stated` instruments
are off as often and as far as the belief takes them to be, which tells whether its arithmetic holds; by kind there are
more of the wrong ones. A year's beliefs of one set are nearly one and the same: standard errors are over sets. Writes
`out/instruments.json`, or `out/instruments_stated.json`.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter

import numpy as np
from tqdm import tqdm

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.instruments import contents
from service.verdict.instruments.belief import DOUBTED, LIMIT
from service.verdict.instruments.classes import ERRORS
from service.verdict.instruments.correction import corrected
from service.verdict.model import CylinderFacts
from service.verdict.priors import field_weights
from tests.benchmarks.instruments_year import (
    DROP_MONTH,
    GRADE,
    MONTHS,
    Reading,
    Set,
    advance,
    draw_sets,
    readings,
    true_combination_k,
)
from tests.benchmarks.output import output
from tests.benchmarks.truth_cylinders import Cylinder, Nature

SETS = 15
CLASS_K = float(np.hypot(np.hypot(GRADE.temp_k, GRADE.gain / 0.027), GRADE.zero_pa / 1e6 / 0.027))
TALKED_SIGMA, TALKED_K = 3.0, 0.3
"""A belief this far from the truth, of its own uncertainty and in kelvin, is a wrong error that it was talked into."""
FRESH = 10
"""A drop may go unnoticed for so many settled pairs; until then nothing was learned of it, right or wrong."""


class Tally:
    """Counts of one or more years."""

    def __init__(self) -> None:
        self.counts: Counter[str] = Counter()
        self.inside: dict[tuple[int, int], Counter[str]] = {}
        self.kinds: dict[tuple[int, int], str] = {}
        self.doubted_after: list[int | None] = []
        self.talked: list[dict[str, object]] = []
        self.unnoticed: list[dict[str, object]] = []
        self.clean_condemned: Counter[str] = Counter()

    def judged(self, judge: str, reading: Reading, found, engine: VerdictEngine) -> None:
        """Whether the true designation came first, and whether a clean cylinder was called contaminated."""
        first = engine.space.designations[int(found.identity.argmax())]
        self.counts[judge] += first == reading.cylinder.designation
        dirty = 1.0 - float(found.by_state["none"].sum()) - float(found.by_state["vapour-only"].sum())
        self.clean_condemned[judge] += reading.cylinder.state == "none" and dirty >= 0.9

    def month_end(self, year: int, number: int, one: Set) -> None:
        """Whether the stated intervals hold the truth, and whether doubt is where it belongs."""
        self.kinds[year, number] = one.kind
        inside = self.inside.setdefault((year, number), Counter())
        inside["stated"] += 1
        for which, name in enumerate(ERRORS):
            low, high = one.belief.interval(which)
            inside[name] += low <= one.errors[which] <= high
        mean, spread = one.belief.combined_k()
        true = true_combination_k(one)
        inside["combined_k"] += abs(mean - true) <= 1.96 * spread
        if abs(mean - true) > max(TALKED_SIGMA * spread, TALKED_K):
            fresh = one.kind == "dropped" and one.month >= DROP_MONTH and one.since_drop <= FRESH
            told = {"year": year, "set": number, "kind": one.kind, "month": one.month}
            (self.unnoticed if fresh else self.talked).append(
                {**told, "believed_k": mean, "uncertainty_k": spread, "true_k": true}
            )
        usual = abs(true) < LIMIT * CLASS_K
        self.counts["usual"] += usual
        self.counts["doubted though usual"] += usual and one.belief.doubt >= DOUBTED

    def coverage(self, kind: str | None = None) -> dict[str, object]:
        """Share of the month's ends at which the stated 95 % held the truth, and its standard error over sets."""
        sets = [inside for key, inside in self.inside.items() if kind in (None, self.kinds[key])]
        told: dict[str, object] = {"sets": len(sets)}
        for name in (*ERRORS, "combined_k"):
            shares = np.array([inside[name] / inside["stated"] for inside in sets])
            error = float(shares.std(ddof=1) / np.sqrt(shares.size)) if shares.size > 1 else None
            told[name] = {"share": float(shares.mean()), "standard_error": error}
        return told


def draw_cylinders(
    engine: VerdictEngine, count: int, labels_right: float, rng: np.random.Generator
) -> list[Cylinder]:
    """That many from the priors of the table's own designations, pressures by direct flashes."""
    curves, surfaces, prevalence = load_curves(), load_surfaces(), load_prevalence()
    mixing = np.nan_to_num(np.asarray(surfaces.mixture_uncertainty, dtype=float))
    met = field_weights(prevalence, curves.designations)
    met = met[[curves.index(name) for name in surfaces.contaminants]]
    nature = Nature(load_catalogue(), engine.space, tuple(sorted(prevalence.weights)), mixing, met)
    priors = engine.book.priors(CylinderFacts(), "field")
    found: list[Cylinder] = []
    with tqdm(total=count, desc="Drawing cylinders", unit="cylinder") as bar:
        while len(found) < count:
            cylinder = nature.draw(rng, priors, labels_right)
            if cylinder is not None and np.isfinite(cylinder.pressures_pa).all():
                found.append(cylinder)
                bar.update()
    return found


def run_year(
    engine: VerdictEngine,
    year: int,
    cylinders: list[Cylinder],
    pairs: int,
    tally: Tally,
    rng: np.random.Generator,
    *,
    stated: bool = False,
    judged: bool = True,
) -> None:
    """One year: judge with what is believed before each pair, then learn from it."""
    sets, month = draw_sets(rng, SETS, stated=stated), 1.0
    for reading in tqdm(readings(sets, cylinders, pairs, rng), total=pairs, desc=f"Year {year}", unit="pair"):
        while reading.month > month:
            _close_month(tally, year, sets, month, rng)
            month += 1.0
        one = sets[reading.who]
        tally.counts["pairs"] += 1
        after = contents.learned(one.belief, contents.explain(engine, reading.pair, reading.facts))
        judges = (
            ("by class", reading.pair),
            ("learned", corrected(reading.pair, one.belief, after)),
            ("a third of the error", reading.better),
        )
        for judge, pair in judges if judged else ():
            tally.judged(judge, reading, engine.infer([pair]), engine)
        one.belief = after
        _watch(one)
    _close_month(tally, year, sets, MONTHS, rng)
    tally.doubted_after += [one.doubted_after for one in sets if one.kind == "dropped"]


def _close_month(tally: Tally, year: int, sets: list[Set], month: float, rng: np.random.Generator) -> None:
    for number, one in enumerate(sets):
        advance(one, month, rng)
        tally.month_end(year, number, one)


def _watch(one: Set) -> None:
    """Count the pairs of a dropped set until it is doubted."""
    if one.kind != "dropped" or one.month < DROP_MONTH:
        return
    one.since_drop += 1
    if one.doubted_after is None and one.belief.doubt >= DOUBTED:
        one.doubted_after = one.since_drop


def summary(tally: Tally) -> dict[str, object]:
    """All figures."""
    pairs = tally.counts["pairs"]
    right = {name: tally.counts[name] / pairs for name in ("by class", "learned", "a third of the error")}
    best = right["a third of the error"] - right["by class"]
    return {
        "pairs": pairs,
        "right_first": right,
        "gain_over_best_possible": (right["learned"] - right["by class"]) / best if best else None,
        "clean_called_contaminated": dict(tally.clean_condemned),
        "coverage_95": tally.coverage(),
        "coverage_95_by_kind": {kind: tally.coverage(kind) for kind in sorted(set(tally.kinds.values()))},
        "dropped_doubted_after_pairs": tally.doubted_after,
        "doubted_though_usual": tally.counts["doubted though usual"] / max(tally.counts["usual"], 1),
        "talked_into_a_wrong_error": tally.talked,
        "dropped_and_not_read_ten_pairs_since": len(tally.unnoticed),
    }


def main() -> None:
    """Draw, read, learn, count, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--years", type=int, default=4)
    parser.add_argument("--cylinders", type=int, default=200)
    parser.add_argument("--pairs", type=int, default=900, help="settled pairs in a year")
    parser.add_argument("--labels-right", type=float, default=0.9, help="share; the verdict always takes 0.9")
    parser.add_argument("--seed", type=int, default=18)
    parser.add_argument(
        "--stated", action="store_true", help="instruments as far off as the belief takes them"
    )
    parser.add_argument("--coverage-only", action="store_true", help="judge no cylinder")
    arguments = parser.parse_args()
    engine = VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())
    tally = Tally()
    for year in range(arguments.years):
        rng = np.random.default_rng([arguments.seed, year])
        cylinders = draw_cylinders(engine, arguments.cylinders, arguments.labels_right, rng)
        run_year(
            engine, year, cylinders, arguments.pairs, tally, rng, stated=arguments.stated,
            judged=not arguments.coverage_only,
        )  # fmt: skip
    document = {
        "seed": arguments.seed,
        "years": arguments.years,
        "labels_right": arguments.labels_right,
        "instruments": "as stated" if arguments.stated else "by kind",
        **summary(tally),
    }
    name = "instruments_stated.json" if arguments.stated else "instruments.json"
    output(name).write_text(json.dumps(document, indent=1))
    print(json.dumps(document, indent=1))


if __name__ == "__main__":
    main()
