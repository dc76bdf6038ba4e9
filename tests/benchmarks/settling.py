"""How well settling is told, against simulated truth and beside the usual rules of thumb, on the same runs.

    python -m tests.benchmarks.settling --runs 200 --sets A B V --link typical --seed 1
    python -m tests.benchmarks.settling --runs 60 --sets weight-rising --gains --seed 1 --no-rules

Prints a table and writes JSON and a plot under tests/benchmarks/out/.
"""

from __future__ import annotations

import argparse
import json
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tqdm import tqdm

from demo.physics import Saturated
from ingest.estimator.saturation_thermometer import temperature_per_pascal
from ingest.estimator.settling import Estimate
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pipeline import Pipeline
from ingest.sessions.session import Session
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Reading
from tests.benchmarks.output import output
from tests.benchmarks.settling_courses import (
    ATMOSPHERE_PA,
    Plan,
    Truth,
    build,
    run,
    saturation_temp_k,
)
from tests.benchmarks.settling_links import LINKS, TICK_S, Sent
from tests.benchmarks.settling_rules import RULES, Rule
from tests.benchmarks.settling_scores import Claim, Intervals, Score, is_gross, is_settled
from tests.benchmarks.settling_sites import SECOND
from tests.benchmarks.settling_sites import SETS as NARROW
from tests.benchmarks.settling_wide import WIDE

SETS = NARROW | WIDE

START_S = 1.7e9


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
    valve: str


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
        plan.valve,
    )


def pair_error_k(course: Course, temp_k: float, pressure_pa: float) -> float:
    """Return the pair's error [K], with the calibration of both instruments taken out."""
    contents = course.contents
    assert isinstance(contents, Saturated)
    true_pa = (pressure_pa - ATMOSPHERE_PA - course.zero_pa) / (1 + course.gain) + ATMOSPHERE_PA
    return temp_k - course.clamp_offset_k - saturation_temp_k(contents, true_pa, temp_k)


class Bank:
    """The method under test, as a claim per tick.

    Parameters
    ----------
    settings : SettlingSettings
        What counts as settled.
    known_lag_s : float or None
        The clamp's lag as remembered from an earlier hookup, [s].
    beside : frozenset of str
        What else it hears: `mass`, `ambient-temperature`, `battery`, a second clamp.
    valve : str
        The valve that the hookup says the gauge is on.
    """

    def __init__(
        self,
        settings: SettlingSettings,
        known_lag_s: float | None = None,
        beside: frozenset[str] = frozenset((SECOND, "battery")),
        valve: str = "vapour",
    ) -> None:
        first = Hookup(1, "bench", "bench", "gauge", "clamp", valve, probe_lag_s=known_lag_s)
        self.pipeline = Pipeline(settings)
        self.pipeline.attach([first, Hookup(2, "bench", "bench", "gauge", "second")])
        self.session, self.second = self.pipeline.sessions[1], self.pipeline.sessions[2]
        self.beside = beside

    def take(self, sent: Sent) -> None:
        """Take one reading as it arrives."""
        stamp_s, arrival_s = START_S + sent.stamp_s, START_S + sent.arrival_s
        if sent.quantity == "wall-temperature":
            self.session.take_clamp(stamp_s, sent.value, arrival_s)
        elif sent.quantity == "gauge-pressure":
            self.session.take_gauge(stamp_s, sent.value + ATMOSPHERE_PA, arrival_s)
            if self.second.clamp.accepted:
                self.second.take_gauge(stamp_s, sent.value + ATMOSPHERE_PA, arrival_s)
                self._advance(self.second)
        elif sent.quantity not in self.beside:
            return
        elif sent.quantity == SECOND:
            self.second.take_clamp(stamp_s, sent.value, arrival_s)
        else:
            self.session.take("clamp", Reading("clamp", sent.quantity, stamp_s, sent.value), arrival_s)
        self._advance(self.session)

    def _advance(self, session: Session) -> None:
        while session.advance():
            pass

    @property
    def settled(self) -> bool:
        """Whether the method now claims settled."""
        return self.session.settling.settled

    def reasons(self) -> tuple[str, ...]:
        """What the worker tells beside the state, that of the state itself included."""
        disagree = ("devices-disagree",) if self.pipeline.disagreeing(self.session) else ()
        return (*self.session.reasons(), self.session.settling.state(), *disagree)


def whole_uncertainty_k(pair: Estimate) -> float:
    """Return what temperature and pressure together leave open, [K]."""
    per_pascal = temperature_per_pascal(pair.pressure_pa, pair.temp_k)
    return math.hypot(pair.uncertainty_k, pair.pressure_uncertainty_pa * per_pascal)


def play(course: Course, method: Bank | Rule, score: Score) -> list[Claim]:
    """Play a course to one method and score it."""
    intervals, claims = Intervals(score), []
    was, first_good = False, None
    told: set[str] = set()
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
            claims.append(_claim(course, method, tick))
        was = now
        if isinstance(method, Bank) and tick % 15 == 14:
            told.update(method.reasons())
            if not truth.vapour_only:
                first_good = _provisional(course, method, truth, score, first_good)
    intervals.end(course.truth[-1].at_s)
    if first_good is not None:
        score.first_good_s.append(first_good)
    score.take(claims, told)
    score.worst += [f"{course.name} at {c.at_s:.0f} s, gap {c.gap_k:.2f} K" for c in claims if c.false]
    return claims


def _claim(course: Course, method: Bank | Rule, tick: int) -> Claim:
    truth, then = course.truth[tick], _truth_at_stamp(course, method, tick)
    claim = Claim(truth.at_s, not is_settled(truth), is_gross(truth), truth.gap_k)
    claim.false_when_taken, claim.gross_when_taken = not is_settled(then), is_gross(then)
    _grade(course, method, claim)
    return claim


def _truth_at_stamp(course: Course, method: Bank | Rule, tick: int) -> Truth:
    """Return the truth at the claim's own stamp: what happens while the readings travel nobody knows yet."""
    if isinstance(method, Rule):
        return course.truth[tick]
    taken_s = method.session.settling.time_s - START_S
    return course.truth[max(0, min(tick, int(taken_s / TICK_S) - 1))]


def _grade(course: Course, method: Bank | Rule, claim: Claim) -> None:
    if not isinstance(course.contents, Saturated):
        return
    pair = method.session.settling.estimate() if isinstance(method, Bank) else method.pair()
    if pair is None:
        return
    temp, pressure, uncertainty = (
        (pair.temp_k, pair.pressure_pa, whole_uncertainty_k(pair)) if isinstance(pair, Estimate) else pair
    )
    claim.error_k, claim.uncertainty_k = pair_error_k(course, temp, pressure), uncertainty


def _provisional(
    course: Course, method: Bank, truth: Truth, score: Score, first_good: float | None
) -> float | None:
    settling = method.session.settling
    pair = settling.provisional()
    if pair is None:
        return first_good
    score.provisional.append((pair_error_k(course, pair.temp_k, pair.pressure_pa), whole_uncertainty_k(pair)))
    if first_good is None and pair.uncertainty_k <= 0.3:
        return truth.at_s
    return first_good


@dataclass(frozen=True)
class Given:
    """What a run of the bench gives the worker beside clamp and gauge."""

    known_lag: bool = False
    beside: frozenset[str] = frozenset((SECOND, "battery"))

    def bank(self, settings: SettlingSettings, course: Course) -> Bank:
        """Return a worker for a course; a remembered lag is good to 10 %."""
        lag_s = course.lag_s * math.exp(Random(course.lag_s).gauss(0.0, 0.1)) if self.known_lag else None
        return Bank(settings, lag_s, self.beside, course.valve)


BANK = "filter bank"
AS_IT_COMES = Given()
GAINS = {
    "filter bank, lag remembered": Given(known_lag=True),
    "filter bank, air heard": Given(beside=AS_IT_COMES.beside | {"ambient-temperature"}),
    "filter bank, scale heard": Given(beside=AS_IT_COMES.beside | {"mass"}),
    "filter bank, all three": Given(True, AS_IT_COMES.beside | {"ambient-temperature", "mass"}),
}
"""What the worker may be given beside clamp and gauge."""


def bench(
    set_name: str,
    link: str,
    runs: int,
    seed: int,
    settings: SettlingSettings,
    rules: bool = True,
    gains: bool = False,
) -> dict[str, Score]:
    """Run a set; `runs` courses in all, drawn in turn from the set's kinds.

    Where a set has several kinds, the worker's score over each stands there too, as `filter bank: <kind>`; of an event
    with a fault over each of both.
    """
    banks = {BANK: AS_IT_COMES} | (GAINS if gains else {})
    thumbs = RULES if rules else {}
    scores = {name: Score() for name in (*banks, *thumbs)}
    kinds = SETS[set_name]
    for number in tqdm(range(runs), desc=f"set {set_name}, {link}", disable=None):
        course = simulate(kinds[number % len(kinds)], link, seed * 100_000 + number)
        for name, given in banks.items():
            score = Score()
            play(course, given.bank(settings, course), score)
            scores[name].add(score)
            if name == BANK and len(kinds) > 1:
                for part in course.name.split(" / "):
                    scores.setdefault(f"{BANK}: {part}", Score()).add(score)
        for name, rule in thumbs.items():
            play(course, rule(), scores[name])
    return scores


def plot(report: dict[str, dict[str, dict[str, float | int | None]]], path: Path) -> None:
    """Draw false claims and median delay of every method, one row of panels a set."""
    from matplotlib.figure import Figure

    sets = [name for name in report if any(row["claims"] for row in report[name].values())]
    if not sets:
        return
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
    parser.add_argument("--gains", action="store_true", help="also with lag remembered, air and scale heard")
    args = parser.parse_args()
    report = {}
    for name in args.sets:
        scores = bench(
            name, args.link, args.runs, args.seed, SettlingSettings(), not args.no_rules, args.gains
        )
        report[name] = {method: score.row() for method, score in scores.items()}
        for method, row in report[name].items():
            print(name, method, {k: round(v, 3) if isinstance(v, float) else v for k, v in row.items()})
        for method, score in scores.items():
            if method not in RULES and ":" not in method:
                print(f"   {method}, false:", score.worst)
                print(f"   {method}, told in so many of {score.runs} runs:", dict(score.told))
    sets = "-".join(args.sets)
    output(f"settling-{sets}-{args.link}-{args.seed}.json").write_text(json.dumps(report, indent=1))
    plot(report, output(f"settling-{sets}-{args.link}-{args.seed}.png"))


if __name__ == "__main__":
    main()
