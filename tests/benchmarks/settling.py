"""How well settling is told, against simulated truth and beside the usual rules of thumb, on the same runs.

    python -m tests.benchmarks.settling --runs 200 --sets A B V --link typical --seed 1

Prints a table and writes JSON and a plot under tests/benchmarks/out/.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import numpy as np
from tqdm import tqdm

from demo.physics import Saturated
from ingest.hookup import Hookup
from ingest.session import Session
from ingest.settling import SettlingSettings
from tests.benchmarks.settling_courses import (
    ATMOSPHERE_PA,
    LINKS,
    SETS,
    Plan,
    Sent,
    Truth,
    build,
    run,
    saturation_temp_k,
)
from tests.benchmarks.settling_rules import RULES, Rule

OUT = Path(__file__).parent / "out"
START_S = 1.7e9
LONG_ENOUGH_S = 900.0
"""A settled interval shorter than this is not counted as missed, [s]."""


def is_settled(truth: Truth) -> bool:
    """What settled means in truth: 0.25 K, 0.05 K in 30 s, no flow, some liquid."""
    return (
        abs(truth.gap_k) <= 0.25
        and abs(truth.drift_k_s) <= 0.05 / 30
        and not truth.flow
        and not truth.vapour_only
    )


@dataclass
class Claim:
    """One claim of settled and how good it was."""

    at_s: float
    false: bool
    gross: bool
    gap_k: float
    error_k: float | None = None
    uncertainty_k: float | None = None


@dataclass
class Score:
    """What one method did over a set of runs."""

    claims: list[Claim] = field(default_factory=list)
    delays_s: list[float] = field(default_factory=list)
    missed: int = 0
    intervals: int = 0
    wrong_ticks: int = 0
    claimed_ticks: int = 0
    first_good_s: list[float] = field(default_factory=list)
    provisional: list[tuple[float, float]] = field(default_factory=list)
    vapour_claims: int = 0
    vapour_runs: int = 0
    readings: int = 0
    cpu_s: float = 0.0
    worst: list[str] = field(default_factory=list)

    def row(self) -> dict[str, float | int | None]:
        """Figures of merit, in percent, seconds and kelvin."""
        n = len(self.claims)
        errors = np.array([abs(c.error_k) for c in self.claims if c.error_k is not None])
        inside = [
            abs(c.error_k) <= 1.96 * c.uncertainty_k
            for c in self.claims
            if c.error_k is not None and c.uncertainty_k
        ]
        provisional = [abs(e) <= 1.96 * u for e, u in self.provisional]
        return {
            "claims": n,
            "false": sum(c.false for c in self.claims),
            "false_percent": _percent(sum(c.false for c in self.claims), n),
            "gross": sum(c.gross for c in self.claims),
            "gross_percent": _percent(sum(c.gross for c in self.claims), n),
            "time_wrong_percent": _percent(self.wrong_ticks, self.claimed_ticks),
            "intervals": self.intervals,
            "missed_percent": _percent(self.missed, self.intervals),
            "delay_median_s": _quantile(self.delays_s, 0.5),
            "delay_95_s": _quantile(self.delays_s, 0.95),
            "error_median_k": _quantile(errors, 0.5),
            "error_95_k": _quantile(errors, 0.95),
            "coverage_percent": _percent(sum(inside), len(inside)),
            "provisional_coverage_percent": _percent(sum(provisional), len(provisional)),
            "provisional_samples": len(provisional),
            "first_pair_0.3_k_median_s": _quantile(self.first_good_s, 0.5),
            "us_per_reading": 1e6 * self.cpu_s / self.readings if self.readings else None,
        }


def _percent(part: float, whole: float) -> float | None:
    return 100.0 * part / whole if whole else None


def _quantile(values: object, q: float) -> float | None:
    array = np.asarray(values, dtype=float)
    return float(np.quantile(array, q)) if array.size else None


@dataclass
class Course:
    """One run's truth and readings, kept so that every method sees the same."""

    name: str
    truth: list[Truth]
    sent: list[list[Sent]]
    contents: object
    clamp_offset_k: float
    zero_pa: float
    gain: float
    lag_s: float
    fresh: bool


def simulate(make: Callable[[Random], Plan], link_name: str, seed: int) -> Course:
    """Simulate one course; the same seed gives the same course."""
    rng = Random(f"{make.__name__}/{link_name}/{seed}")
    plan = make(rng)
    state = rng.getstate()
    rig = build(plan, LINKS[link_name], rng)
    rng.setstate(state)
    truth, sent = [], []
    for moment, readings in run(plan, LINKS[link_name], rng):
        truth.append(moment)
        sent.append(readings)
    gauge, clamp = rig.gauge_spec, rig.clamp_spec
    return Course(
        plan.name,
        truth,
        sent,
        rig.cylinder.contents,
        clamp.offset_k,
        gauge.zero_pa,
        gauge.gain,
        clamp.lag_s,
        plan.fresh,
    )


def pair_error_k(course: Course, temp_k: float, pressure_pa: float) -> float:
    """Return the pair's error [K], with the calibration of both instruments taken out."""
    contents = course.contents
    assert isinstance(contents, Saturated)
    true_pa = (pressure_pa - ATMOSPHERE_PA - course.zero_pa) / (1 + course.gain) + ATMOSPHERE_PA
    return temp_k - course.clamp_offset_k - saturation_temp_k(contents, true_pa, temp_k)


class Bank:
    """The method under test, as a claim per tick."""

    def __init__(self, settings: SettlingSettings, known_lag_s: float | None = None) -> None:
        hookup = Hookup(1, "bench", "bench", "d", "d", probe_lag_s=known_lag_s)
        self.session = Session.of(hookup, settings)

    def take(self, sent: Sent) -> None:
        """Take one reading as it arrives."""
        if sent.quantity == "wall-temperature":
            self.session.take_clamp(START_S + sent.stamp_s, sent.value, START_S + sent.arrival_s)
        else:
            self.session.take_gauge(
                START_S + sent.stamp_s, sent.value + ATMOSPHERE_PA, START_S + sent.arrival_s
            )
        while self.session.advance():
            pass

    @property
    def settled(self) -> bool:
        """Whether the method now claims settled."""
        return self.session.settling.settled


@dataclass
class Intervals:
    """The stretches in which the truth is settled, and when each was first claimed."""

    score: Score
    since_s: float | None = None
    answered: bool = True

    def tick(self, at_s: float, good: bool, claimed: bool) -> None:
        """Take one moment."""
        if good and self.since_s is None:
            self.since_s, self.answered = at_s, False
        if not good:
            self.end(at_s)
        if claimed and self.since_s is not None and not self.answered:
            self.answered = True
            self.score.intervals += 1
            self.score.delays_s.append(at_s - self.since_s)

    def end(self, at_s: float) -> None:
        """Close the stretch; one that was long enough and never claimed was missed."""
        if self.since_s is not None and not self.answered and at_s - self.since_s >= LONG_ENOUGH_S:
            self.score.missed += 1
            self.score.intervals += 1
        self.since_s, self.answered = None, True


def play(course: Course, method: Bank | Rule, score: Score) -> list[Claim]:
    """Play a course to one method and score it."""
    intervals, claims = Intervals(score), []
    was, first_good = False, None
    for tick, (truth, readings) in enumerate(zip(course.truth, course.sent, strict=True)):
        start = time.process_time()
        for sent in readings:
            method.take(sent)
        score.cpu_s += time.process_time() - start
        score.readings += len(readings)
        good, now = is_settled(truth), method.settled
        intervals.tick(truth.at_s, good, now)
        score.claimed_ticks += now
        score.wrong_ticks += now and not good
        if now and not was:
            gross = abs(truth.gap_k) > 0.5 or truth.flow or truth.vapour_only
            claims.append(Claim(truth.at_s, not good, gross, truth.gap_k))
            _grade(course, method, claims[-1])
        was = now
        if isinstance(method, Bank) and not truth.vapour_only and tick % 15 == 14:
            first_good = _provisional(course, method, truth, score, first_good)
    intervals.end(course.truth[-1].at_s)
    if first_good is not None:
        score.first_good_s.append(first_good)
    score.claims += claims
    score.worst += [f"{course.name} at {c.at_s:.0f} s, gap {c.gap_k:.2f} K" for c in claims if c.false]
    return claims


def _grade(course: Course, method: Bank | Rule, claim: Claim) -> None:
    if not isinstance(course.contents, Saturated):
        return
    pair = method.session.settling.estimate() if isinstance(method, Bank) else method.pair()
    if pair is None:
        return
    temp, pressure, uncertainty = (
        (pair.temp_k, pair.pressure_pa, pair.uncertainty_k) if isinstance(method, Bank) else pair
    )
    claim.error_k, claim.uncertainty_k = pair_error_k(course, temp, pressure), uncertainty


def _provisional(
    course: Course, method: Bank, truth: Truth, score: Score, first_good: float | None
) -> float | None:
    settling = method.session.settling
    pair = settling.provisional()
    if pair is None:
        return first_good
    score.provisional.append((pair_error_k(course, pair.temp_k, pair.pressure_pa), pair.uncertainty_k))
    if first_good is None and pair.uncertainty_k <= 0.3:
        return truth.at_s
    return first_good


def bench(
    set_name: str, link: str, runs: int, seed: int, settings: SettlingSettings, rules: bool = True
) -> dict[str, Score]:
    """Run a set; `runs` courses in all, drawn in turn from the set's kinds."""
    scores: dict[str, Score] = {"lag bank": Score()}
    if rules:
        scores |= {name: Score() for name in RULES}
    kinds = SETS[set_name]
    for number in tqdm(range(runs), desc=f"set {set_name}, {link}", disable=None):
        course = simulate(kinds[number % len(kinds)], link, seed * 100_000 + number)
        play(course, Bank(settings), scores["lag bank"])
        for name in RULES if rules else ():
            play(course, RULES[name](), scores[name])
    return scores


def plot(report: dict[str, dict[str, dict[str, float | int | None]]], path: Path) -> None:
    """Draw false claims and median delay of every method, one row of panels a set."""
    from matplotlib.figure import Figure

    sets = [name for name in report if any(row["claims"] for row in report[name].values())]
    figure = Figure(figsize=(9, 2.6 * len(sets)), layout="constrained")
    panels = figure.subplots(len(sets), 2, squeeze=False)
    for row, name in zip(panels, sets, strict=True):
        methods = list(report[name])
        for panel, figure_of_merit in zip(row, ("false_percent", "delay_median_s"), strict=True):
            panel.barh(methods, [report[name][m][figure_of_merit] or 0.0 for m in methods])
            panel.invert_yaxis()
            panel.set_title(f"set {name}: {figure_of_merit}")
    figure.savefig(path)


def main() -> None:
    """Run the bench from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--sets", nargs="+", default=["A", "B", "V"], choices=sorted(SETS))
    parser.add_argument("--link", default="typical", choices=sorted(LINKS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--no-rules", action="store_true")
    args = parser.parse_args()
    OUT.mkdir(exist_ok=True)
    report = {}
    for name in args.sets:
        scores = bench(name, args.link, args.runs, args.seed, SettlingSettings(), not args.no_rules)
        report[name] = {method: score.row() for method, score in scores.items()}
        for method, row in report[name].items():
            print(name, method, {k: round(v, 3) if isinstance(v, float) else v for k, v in row.items()})
        print("   false:", scores["lag bank"].worst)
    (OUT / f"settling-{args.link}-{args.seed}.json").write_text(json.dumps(report, indent=1))
    plot(report, OUT / f"settling-{args.link}-{args.seed}.png")


if __name__ == "__main__":
    main()
