"""How often the range of the time left holds the real time of the claim, on courses that it was not fitted to.

    python -m tests.benchmarks.settling_time_left --runs 40 --seed 4001
    python -m tests.benchmarks.settling_time_left --runs 30 --fit

The first prints a table, a row a course; those held back were never used for fitting, neither seed nor kind. The
second prints the quantiles that stand in `ingest/estimator/time_left_settings.py`.
"""

from __future__ import annotations

import argparse
import json
import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from random import Random

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import eye, hstack
from tqdm import tqdm

from ingest.estimator import time_left
from ingest.estimator.settling_settings import SettlingSettings
from ingest.estimator.time_left import SHIFT_S, Outlook, TimeLeft
from ingest.estimator.time_left_settings import DRIFTING, QUIET
from tests.benchmarks.output import output
from tests.benchmarks.settling import AS_IT_COMES, START_S, simulate
from tests.benchmarks.settling_courses import (
    Plan,
    already_settled,
    belt,
    filled,
    finger,
    fresh_clamp,
    ice,
    leak,
    moved_in,
    moved_out,
    night_in_van,
    outdoors,
    recovery,
    slip,
    stuck_clamp,
    stuck_gauge,
)
from tests.benchmarks.settling_links import LINKS

Kind = Callable[[Random], Plan]
FITTED: tuple[Kind, ...] = (
    fresh_clamp,
    already_settled,
    finger,
    moved_in,
    outdoors,
    filled,
    belt,
    leak,
    recovery,
    slip,
)
HELD_BACK: tuple[Kind, ...] = (stuck_clamp, moved_out, night_in_van, ice, stuck_gauge)
"""A third of the kinds, never fitted to."""
FIT_SEED = 7001
EVERY_TICKS = 15
"""What is told is noted every 30 s of a run."""
SHARES = {False: (0.05, 0.5, 0.96), True: (0.045, 0.5, 0.97)}
"""Of the range's ends and its middle, where the cylinder drifts and where not: a little wider than nine in ten, because
other courses are to be held too."""
CLAMP_KINDS, CLAMP_TIMES = 3, 4
"""The first kinds, in which the clamp is waited for, are short: so many times as many are played."""
MOST_FITTED = 3000


@dataclass
class Moment:
    """What was told at one moment, and what came of it; times from that moment on, [s].

    `claim_s` and `event_s` are infinite where there was none; `run` tells the runs apart.
    """

    run: str
    seen: Outlook | None
    told: TimeLeft | None
    claim_s: float
    event_s: float
    end_s: float


def moments(kind: Kind, link: str, seed: int) -> list[Moment]:
    """Play one course to the worker and return what it told while it was not settled."""
    course = simulate(kind, link, seed)
    method = AS_IT_COMES.bank(SettlingSettings(), course)
    settling, found = method.session.settling, list[tuple[float, Outlook | None]]()
    claims, events = list[float](), list[float]()
    was = flowed = False
    for tick, (truth, sent) in enumerate(zip(course.truth, course.sent, strict=True)):
        for one in sent:
            method.take(one)
        settling = method.session.settling
        if truth.flow and not flowed:
            events.append(truth.at_s)
        if method.settled and not was:
            claims.append(truth.at_s)
        was, flowed = method.settled, truth.flow
        if tick % EVERY_TICKS == EVERY_TICKS - 1 and not was and settling.bank is not None:
            delayed_s = truth.at_s - (settling.time_s - START_S)
            seen = time_left.outlook(settling) if settling.provisional() is not None else None
            found.append((truth.at_s - max(0.0, delayed_s), seen))
    end_s, run = course.truth[-1].at_s, f"{kind.__name__}/{seed}"
    return [
        Moment(run, seen, _told(seen), _next(claims, at_s) - at_s, _next(events, at_s) - at_s, end_s - at_s)
        for at_s, seen in found
    ]


def _told(seen: Outlook | None) -> TimeLeft | None:
    if seen is None:
        return None
    return time_left.judged(seen, DRIFTING if seen.drifts else QUIET)


def _next(times: Iterable[float], after_s: float) -> float:
    return min((one for one in times if one > after_s), default=math.inf)


@dataclass
class Row:
    """One course: how often something was told, and how often the range held, [%]; medians in minutes."""

    course: str
    runs: int
    told_percent: float
    judged: int
    held_percent: float
    undisturbed: int
    undisturbed_held_percent: float
    sooner_percent: float
    later_percent: float
    expected_min: float
    least_min: float
    most_min: float
    real_min: float


def row_of(course: str, found: list[Moment]) -> Row:
    """Count; a moment is judged if the claim came, or if the whole range had passed when the run ended."""
    told = [(one, one.told) for one in found if one.told is not None]
    judged = [(one, t) for one, t in told if one.claim_s < math.inf or t.most_s <= one.end_s]
    calm = [(one, t) for one, t in judged if one.event_s > min(one.claim_s, t.most_s)]
    middles = np.array([[t.expected_s, t.least_s, t.most_s, one.claim_s] for one, t in calm]).reshape(-1, 4)
    expected, least, most, real = (np.median(middles, axis=0) / 60.0).tolist() if calm else [math.nan] * 4
    return Row(
        course,
        len({one.run for one in found}),
        _percent(len(told), len(found)),
        len(judged),
        _percent(sum(_holds(one, t) for one, t in judged), len(judged)),
        len(calm),
        _percent(sum(_holds(one, t) for one, t in calm), len(calm)),
        _percent(sum(one.claim_s < t.least_s for one, t in calm), len(calm)),
        _percent(sum(one.claim_s > t.most_s for one, t in calm), len(calm)),
        expected,
        least,
        most,
        real,
    )


def _holds(one: Moment, told: TimeLeft) -> bool:
    return told.least_s <= one.claim_s <= told.most_s


def _percent(part: float, whole: float) -> float:
    return 100.0 * part / whole if whole else math.nan


def fit(found: dict[str, list[Moment]], *, drifts: bool) -> list[list[float]]:
    """Return the three rows of quantiles, from the moments after which the claim came before anything else happened.

    Every run counts alike.
    """
    rows = [_weighed(kind, drifts=drifts) for kind in found.values()]
    known, goal, weight = (np.concatenate([row[n] for row in rows]) for n in range(3))
    return [_quantile(known, goal, weight, share) for share in SHARES[drifts]]


def _weighed(found: list[Moment], *, drifts: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return what was known, the logarithm of the time until the claim, and the weight of the moments of a kind."""
    mine = [one for one in found if one.seen is not None and one.seen.drifts == drifts]
    mine = [one for one in mine if one.claim_s < one.event_s]
    of_run = Counter(one.run for one in mine)
    known = np.array([(1.0, *one.seen[:4]) for one in mine if one.seen]).reshape(-1, 5)
    goal = np.log(np.array([one.claim_s for one in mine]) + SHIFT_S)
    return known, goal, np.array([1.0 / of_run[one.run] for one in mine])


def _quantile(known: np.ndarray, goal: np.ndarray, weight: np.ndarray, share: float) -> list[float]:
    """Quantile regression as a linear programme (Koenker and Bassett, Econometrica 46 (1978) 33; from memory)."""
    if len(known) > MOST_FITTED:
        # As likely as it weighs: a linear programme of all would take hours.
        chosen = np.random.default_rng(1).choice(len(known), MOST_FITTED, p=weight / weight.sum())
        known, goal, weight = known[chosen], goal[chosen], np.ones(MOST_FITTED)
    count, width = known.shape
    cost = np.concatenate([np.zeros(2 * width), share * weight, (1.0 - share) * weight])
    equal = hstack([known, -known, eye(count), -eye(count)], format="csc")
    solved = linprog(cost, A_eq=equal, b_eq=goal, bounds=(0, None), method="highs")
    return [round(float(one), 3) for one in solved.x[:width] - solved.x[width : 2 * width]]


def play(kinds: Iterable[Kind], link: str, runs: int, seed: int) -> dict[str, list[Moment]]:
    """Play `runs` courses of each kind."""
    return {
        kind.__name__: [
            one
            for number in tqdm(range(runs), desc=kind.__name__, disable=None)
            for one in moments(kind, link, seed * 100_000 + number)
        ]
        for kind in kinds
    }


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=40)
    parser.add_argument("--seed", type=int, default=4001)
    parser.add_argument("--link", default="typical", choices=sorted(LINKS))
    parser.add_argument("--fit", action="store_true")
    args = parser.parse_args()
    if args.fit:
        found = play(FITTED[:CLAMP_KINDS], "typical", CLAMP_TIMES * args.runs, FIT_SEED)
        found |= play(FITTED[CLAMP_KINDS:], "typical", args.runs, FIT_SEED + 1)
        for drifts in (False, True):
            print("DRIFTING" if drifts else "QUIET", fit(found, drifts=drifts))
        return
    found = play((*FITTED, *HELD_BACK), args.link, args.runs, args.seed)
    held = {kind.__name__ for kind in HELD_BACK}
    groups = found | {
        "all of kinds fitted to": [one for name in found if name not in held for one in found[name]],
        "all of kinds held back": [one for name in held for one in found[name]],
    }
    rows = [row_of(name, moments_) for name, moments_ in groups.items()]
    for row in rows:
        print({k: round(v, 1) if isinstance(v, float) else v for k, v in asdict(row).items()})
    output(f"settling-time-left-{args.link}-{args.seed}.json").write_text(
        json.dumps([asdict(row) for row in rows], indent=1)
    )


if __name__ == "__main__":
    main()
