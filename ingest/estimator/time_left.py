"""How long it will take until a hookup is settled, as far as the filters can tell.

Each filter says when its own lag and drift will be within the budget; together they give a likely time and how far
they differ. What that is worth was found on simulated courses (`time_left_settings.py`): the range should hold the
real time nine times in ten, as long as nobody touches anything.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ingest.estimator.filter_bank import BODY, DRIFT, FIRST, LAG, MOST_OFF, FilterBank
from ingest.estimator.settling import Settling
from ingest.estimator.time_left_settings import DRIFTING, QUIET, Quantiles

Floats = NDArray[np.float64]

SHIFT_S = 60.0
"""Times are compared as logarithms of themselves plus this: below a minute nobody counts (a choice), [s]."""
AHEAD_S: Floats = np.concatenate([[0.0], np.geomspace(15.0, 6.0 * 3600.0, 27)])
"""Times that are tried (a choice), [s]."""
ONE_SIDED, TWO_SIDED = 1.7, 2.0
"""Standard deviations for the risk that is taken, 4.5 %, where the mean is near one limit and where it is amid both
(computed from the normal distribution) [-]."""
SLOW_S = 1500.0
"""A longer wait rests on how the drift dies away (a choice), [s]."""
USUAL_DECAY_S, SHORTEST_DECAY_S, LONGEST_DECAY_S = 6000.0, 4000.0, 9000.0
"""Time in which a cylinder's drift dies away where it is not known, and limits of what is believed of it (judgements),
[s]."""
SUSTAINED_S = 15000.0
"""A drift that dies away more slowly is kept up by sun, a belt or a van that cools: nothing can be told (a judgement),
[s]."""
MOST_TOLD_S, MOST_QUIET_S = 6.0 * 3600.0, 3600.0
"""Nothing is told of a longer wait while the cylinder drifts, and while it does not (a choice), [s]."""
SEEN_DEVIATIONS, SEEN_K = 2.0, 0.08
"""The cylinder drifts where that is beyond so many standard deviations and makes so much of a gap (a choice)
[-], [K]."""
WIDEST = 12.0
"""A range of which the end is so many times its beginning tells nothing (a choice), [-]."""
SILENT_STATES = frozenset(("waiting", "disturbed", "settled"))
"""States in which there is nothing to wait for, or nothing is known of how long."""
SILENT_REASONS = frozenset(
    ("probe-moved", "probe-stuck", "probe-suspect", "offset-changed", "gauge-stuck", "no-liquid")
)
"""While one of these is told a claim waits for something else than time."""


class TimeLeft(NamedTuple):
    """Time until settled, from the last bin on: as likely too long as too short, and the range, [s]."""

    expected_s: float
    least_s: float
    most_s: float


class Outlook(NamedTuple):
    """What the filters say of the time left.

    `log_s` is the weighed mean of the logarithms of the filters' own times plus `SHIFT_S`, `spread` their standard
    deviation; `hold` is the share of the holding time that is left, `log_age` the logarithm of the time since the last
    disturbance [s], `drifts` whether the cylinder is waited for.
    """

    log_s: float
    spread: float
    hold: float
    log_age: float
    drifts: bool


def time_left(settling: Settling) -> TimeLeft | None:
    """Return how long it will take until settled, or None where that cannot be told.

    To be asked only while there is a provisional pair: before, nothing is known.
    """
    seen = outlook(settling)
    return None if seen is None else judged(seen, DRIFTING if seen.drifts else QUIET)


def judged(seen: Outlook, by: Quantiles) -> TimeLeft | None:
    """Return what an outlook means by one table of quantiles, or None where the range is too wide to tell anything."""
    known = (1.0, seen.log_s, seen.spread, seen.hold, seen.log_age)
    least, expected, most = sorted(
        max(0.0, math.exp(sum(a * b for a, b in zip(known, row, strict=True))) - SHIFT_S) for row in by
    )
    if most + SHIFT_S > WIDEST * (least + SHIFT_S):
        return None
    return TimeLeft(expected, least, most)


def outlook(settling: Settling) -> Outlook | None:
    """Return what the filters say of the time left, or None where a claim waits for something else than time."""
    bank, s = settling.bank, settling.settings
    if bank is None or settling.state() in SILENT_STATES:
        return None
    if not SILENT_REASONS.isdisjoint(settling.reasons(battery_low=False)):
        return None
    drift, variance = bank.mixed(DRIFT)
    gap_time_s = s.gap_tail * s.gap_time_s
    is_seen = drift * drift > SEEN_DEVIATIONS**2 * variance and abs(drift) * gap_time_s > SEEN_K
    drifts = is_seen and settling.low_risk_since_s is None
    rate = settling.drift_history.decay_rate(bank.time_s, drift)
    age_s = bank.time_s - settling.opened_s
    logs = np.log(_times_s(bank, s.budget_k, gap_time_s, age_s, _decay_s(rate)) + SHIFT_S)
    mean = float(bank.weight @ logs)
    wait_s = math.exp(mean) - SHIFT_S
    if wait_s > (MOST_TOLD_S if drifts else MOST_QUIET_S) - 1.0:
        return None
    is_kept_up = rate is None or rate * SUSTAINED_S < 1.0
    if drifts and (settling.drift_history.is_driven or (wait_s > SLOW_S and is_kept_up)):
        return None
    spread = math.sqrt(max(0.0, float(bank.weight @ (logs - mean) ** 2)))
    held_s = 0.0 if settling.low_risk_since_s is None else bank.time_s - settling.low_risk_since_s
    return Outlook(mean, spread, max(0.0, 1.0 - held_s / s.hold_s), math.log(age_s + 1.0), drifts)


def _decay_s(rate: float | None) -> float:
    if rate is None:
        return USUAL_DECAY_S
    return min(LONGEST_DECAY_S, max(SHORTEST_DECAY_S, 1.0 / rate)) if rate > 0.0 else LONGEST_DECAY_S


def _times_s(bank: FilterBank, budget_k: float, gap_time_s: float, age_s: float, decay_s: float) -> Floats:
    """Return for each filter in what time its lag and drift will be within the budget, [s].

    What is unknown shrinks with the length of the record: a level's variance as its inverse, a lag's as its square, a
    drift's as its cube, which is what a straight line's slope does.
    """
    ahead = AHEAD_S[:, None]
    state, cov = bank.state, bank.cov
    slower = np.exp(-np.clip(state[:, LAG], -MOST_OFF, MOST_OFF))
    ages, slow_ages = ahead * (slower / bank.first_s), ahead * (slower / bank.body_s)
    left, slow_left = np.exp(-ages), np.exp(-slow_ages)
    known = age_s / (age_s + ahead)
    first, body = state[:, FIRST] * left, state[:, BODY] * slow_left
    by_lag = first * ages + body * slow_ages
    residue = cov[:, FIRST, FIRST] * left**2 + cov[:, BODY, BODY] * slow_left**2
    residue += 2.0 * cov[:, FIRST, BODY] * left * slow_left
    noise = cov[:, DRIFT, DRIFT]
    drift_square = np.maximum(0.0, state[:, DRIFT] ** 2 - noise) + noise * known**3
    gap = (gap_time_s * np.exp(-ahead / decay_s)) ** 2 * drift_square
    deviation = np.sqrt(np.maximum(0.0, residue * known + cov[:, LAG, LAG] * (by_lag * known) ** 2 + gap))
    off = np.maximum(np.abs(first + body) + ONE_SIDED * deviation, TWO_SIDED * deviation) / budget_k
    return _first_within(off)


def _first_within(off: Floats) -> Floats:
    """Return for each column the time [s] at which it first comes down to 1, between the times that are tried."""
    within = off <= 1.0
    last = len(AHEAD_S) - 1
    at = np.where(within.any(axis=0), within.argmax(axis=0), last)
    before = np.maximum(at - 1, 0)
    columns = np.arange(off.shape[1])
    high, low = off[before, columns], off[at, columns]
    share = np.clip((high - 1.0) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    found: Floats = AHEAD_S[before] + np.where(at > 0, share, 0.0) * (AHEAD_S[at] - AHEAD_S[before])
    return found
