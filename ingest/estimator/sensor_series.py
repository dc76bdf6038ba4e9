"""One sensor's readings in event time: what is kept, what is dropped and why, its noise, and its bins."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from ingest.estimator.device_clock import DeviceClock
from ingest.estimator.stuck_sensor import probability_of_run

FLOOR_OF_STEP = 1.0 / math.sqrt(12.0)
"""Standard deviation of a value that may lie anywhere in a step, over the step (by definition of a uniform
distribution) [-]."""
COARSE_BELOW = 0.45
"""Noise below this share of the step: repeated levels carry no news (chosen in simulation) [-]."""
COARSE_PERIOD_S = 60.0
"""With coarse levels one reading in this time counts as independent (chosen in simulation), [s]."""
STUCK_PROBABILITY = 1e-5
"""A run of one level less likely than this, at the noise before it, is a stuck sensor (a choice) [-]."""
NOISY_ENOUGH = 0.5
"""A sensor with less noise than this share of its step repeats its levels by nature and is not called stuck (a
choice) [-]."""
LIKELY_RUN = 0.05
"""A run of one level less likely than this holds a claim back: it may be stuck (a choice) [-]."""
MIDDLE, PLACES = (0.0,), (0.0, 0.1, 0.2, 0.3, 0.4)
"""Where a value may lie in its step, from the middle in steps (a choice), [-]."""
LIFE_S, LONG_STAND_S = 180.0, 900.0
"""Coarse levels that went one way and stopped may be those of a sensor that froze: nothing is claimed until a change
back, not longer ago than the first, shows that it lives, or until it has stood for the second
(both simulation and judgement, no source), [s]."""
NOISE_DOUBT = 0.85
"""The noise before a run is only an estimate; the run is judged by so much of it (a choice) [-]."""
SPARSE_S, SPARSER_S, MOST_SPARSE = 5.0, 30.0, 7
"""Readings so far apart are kept, so many of each, to tell by how fast a value moved before it stopped (a choice)
[s], [s], [-]."""
STRETCHES_S, LONGEST_STOP_S, STOPPED_RUN = (12.0, 30.0, 90.0), 200.0, 4
"""A stop is looked for over several stretches before it, until it has lasted so long, once a level has stood for so
many readings (a choice) [s], [s], [-]."""
ENOUGH_CHANGES = 3
"""After a sudden stop so many changes of level show that the sensor lives (a choice)."""
OFF_GRID_ENOUGH = 2.5
"""So many changes that are no multiple of the step, each forgotten a little, make the step finer (a choice) [-]."""
SAME_LEVEL, SHORTEST_RUN = 1e-9, 8
"""A smaller change is none, in the value's unit; a run shorter than the second is not judged (a choice) [K or Pa],
[-]."""
MOST_RECENT = 6
"""Readings that are kept as they are (a choice)."""
EARLY_CHANGES = 5
"""Until a level has changed so often, each change is taken at its word about the step."""
REMEMBERED = 8
"""So many of the device's own stamps are kept to know a repeat by."""
GAP_PERIODS = 4.0
"""A sensor is stale after so many of its periods (a choice) [-]."""
SHORTEST_GAP_S = 90.0
"""It is never stale sooner (a choice) [s]."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a sensor may say.

    Parameters
    ----------
    lowest, highest : float
        Range of the value, in its own unit.
    noise : float
        Noise assumed until it has been seen, in the value's unit.
    least_noise : float
        Noise is never taken as less, in the value's unit.
    least_jump : float
        Smaller jumps are never outliers, in the value's unit.
    least_step : float
        Steps below this count as none, in the value's unit.
    """

    lowest: float
    highest: float
    noise: float
    least_noise: float
    least_jump: float
    least_step: float


TEMPERATURE_LIMITS = Limits(213.15, 423.15, 0.1, 0.01, 0.5, 2e-3)
"""What a clamp may say: -60 to 150 °C (a choice) [K]."""
PRESSURE_LIMITS = Limits(2.0e3, 8.0e6, 1500.0, 50.0, 4000.0, 2.0)
"""What a gauge may say, absolute; above vacuum (a choice) [Pa]."""


def common_step(one: float, other: float, least: float) -> float:
    """Return the largest step that both changes are whole multiples of, in the value's unit; 0.0 if below `least`."""
    if one == math.inf:
        return other
    close = 0.05 * least
    larger, smaller = max(one, other), min(one, other)
    while smaller > least:
        rest = larger % smaller
        if rest < close or smaller - rest < close:
            rest = 0.0
        larger, smaller = smaller, rest
    return larger if smaller == 0.0 else 0.0


@dataclass(slots=True)
class SensorSeries:
    """One sensor of one hookup, fed in order of arrival, cut into bins of event time; in the value's unit."""

    limits: Limits
    newest_s: float = -math.inf
    clock: DeviceClock = field(default_factory=DeviceClock)
    period_s: float = 10.0
    noise: float = 0.0
    step: float = math.inf
    finer_step: float = math.inf
    off_grid: float = 0.0
    accepted: int = 0
    recent: list[tuple[float, float]] = field(default_factory=list)
    seen: list[float] = field(default_factory=list)
    held: tuple[float, float] | None = None
    run: int = 1
    run_noise: float = 0.0
    run_start_s: float = 0.0
    stop_check_s: float = STRETCHES_S[0]
    sparse: list[tuple[float, float]] = field(default_factory=list)
    sparser: list[tuple[float, float]] = field(default_factory=list)
    changes: int = 0
    changes_since_stop: int = ENOUGH_CHANGES
    last_change: float = 0.0
    reversed_s: float = -math.inf

    @property
    def spacing_s(self) -> float:
        """Mean time between the readings that were taken last, gaps included; 0 before there are three, [s]."""
        recent = self.recent
        return (recent[-1][0] - recent[0][0]) / (len(recent) - 1) if len(recent) > 2 else 0.0

    def take(
        self, stamp_s: float, value: float, arrival_s: float
    ) -> tuple[tuple[tuple[float, float], ...], str | None]:
        """Take one reading in order of arrival.

        Parameters
        ----------
        stamp_s : float
            The device's own time, seconds since 1970 UTC, [s].
        value : float
            The value, in its unit: [K] or [Pa].
        arrival_s : float
            When the worker received it, [s].

        Returns
        -------
        tuple
            The readings accepted now, (stamp, value) each, and the reason why this one was not accepted or None.
        """
        if stamp_s in self.seen:
            return (), "duplicate"
        self.seen.append(stamp_s)
        if len(self.seen) > REMEMBERED:
            del self.seen[0]
        stamp_s = self.clock.event_time(stamp_s, arrival_s)
        if stamp_s <= self.newest_s:
            return (), "late"
        if not self.limits.lowest <= value <= self.limits.highest:
            return (), "out-of-range"
        self.newest_s = stamp_s
        if self._wild(stamp_s, value):
            held, self.held = self.held, (stamp_s, value)
            if held is None:
                return (), None
            if abs(held[1] - value) <= self._tolerance():
                self.held = None
                self.recent.clear()
                self._accept(*held)
                self._accept(stamp_s, value)
                return (held, (stamp_s, value)), None
            return (), "wild"
        reason = "wild" if self.held else None
        self.held = None
        self._accept(stamp_s, value)
        return ((stamp_s, value),), reason

    @property
    def gap_s(self) -> float:
        """A silence longer than this makes the sensor stale, [s]."""
        return max(SHORTEST_GAP_S, GAP_PERIODS * self.period_s)

    @property
    def sigma(self) -> float:
        """Noise of one reading: standard deviation, in the value's unit."""
        limits = self.limits
        sigma = self.noise if self.noise > limits.least_noise else limits.least_noise
        if self.accepted <= 5 and sigma < limits.noise:
            sigma = limits.noise
        floor = self.known_step * FLOOR_OF_STEP
        return sigma if sigma > floor else floor

    @property
    def is_coarse(self) -> bool:
        """Whether the steps are so much coarser than the noise that repeated levels carry no news."""
        noise = max(self.noise, self.limits.least_noise)
        return self.accepted > 5 and noise < COARSE_BELOW * self.known_step

    @property
    def known_step(self) -> float:
        """The step between levels, or 0.0 before any is known, in the value's unit."""
        return self.step if self.step < math.inf else 0.0

    def reading_variance(self) -> float:
        """Return the variance of one reading in a mean, in the value's unit squared; larger where levels repeat."""
        sigma = self.sigma
        if self.is_coarse:
            return sigma * sigma * max(1.0, COARSE_PERIOD_S / max(self.period_s, 1.0))
        return sigma * sigma

    @property
    def is_stuck(self) -> bool:
        """Whether the sensor repeats itself in a way that it should not."""
        return self.changes_since_stop < ENOUGH_CHANGES or (
            self.run >= SHORTEST_RUN
            and self.run_noise > NOISY_ENOUGH * self.known_step
            and self._run_probability(MIDDLE) < STUCK_PROBABILITY
        )

    @property
    def is_suspect(self) -> bool:
        """Whether nothing should be claimed of it: it may have stopped where it happened to be."""
        if self.is_coarse and self.newest_s - self.run_start_s < LONG_STAND_S:
            return self.newest_s - self.reversed_s > LIFE_S
        return self.run >= SHORTEST_RUN and self._run_probability(PLACES) < LIKELY_RUN

    def _run_probability(self, places: tuple[float, ...]) -> float:
        step = self.known_step
        if self.accepted < 16 or step <= 0.0:
            return 1.0
        noise = NOISE_DOUBT * math.sqrt(max(0.0, self.run_noise**2 - step * step / 12.0))
        return probability_of_run(self.run, noise / step, places)

    def _stopped_suddenly(self, stamp_s: float) -> bool:
        """Whether a travel that no lag could end at once has ended: an exponential would have gone on."""
        stopped_s = stamp_s - self.run_start_s
        if stopped_s < self.stop_check_s or self.run < STOPPED_RUN:
            return False
        self.stop_check_s = 2.0 * stopped_s if stopped_s < LONGEST_STOP_S else math.inf
        doubt = 1.5 * self.known_step + 3.0 * self.sigma
        return any(self._due(stretch_s, min(stopped_s, 4.0 * stretch_s)) > doubt for stretch_s in STRETCHES_S)

    def _due(self, stretch_s: float, stopped_s: float) -> float:
        """Return how far the value would have gone on since the stop, judged by two stretches before it."""
        start_s, value = self.run_start_s, self.recent[-1][1]
        near = self._back(start_s - stretch_s, stretch_s)
        far = self._back(near[0] - stretch_s, stretch_s) if near is not None else None
        if near is None or far is None:
            return 0.0
        late, early = value - near[1], near[1] - far[1]
        surely = abs(late) - 0.5 * self.known_step - self.sigma
        if late * early <= 0.0 or surely <= 0.0:
            return 0.0
        late_s, early_s = start_s - near[0], near[0] - far[0]
        decay = math.log((early / early_s) / (late / late_s)) / (0.5 * (late_s + early_s))
        if decay <= 1e-4:
            return surely / late_s * stopped_s
        return surely / late_s * math.exp(-0.5 * decay * late_s) * -math.expm1(-decay * stopped_s) / decay

    def _back(self, stamp_s: float, within_s: float) -> tuple[float, float] | None:
        """Return the last kept reading not newer than `stamp_s`, or None if there is none within `within_s`."""
        newest = None
        for kept in (self.sparse, self.sparser):
            for reading in reversed(kept):
                if reading[0] <= stamp_s:
                    if newest is None or reading[0] > newest[0]:
                        newest = reading
                    break
        return newest if newest is not None and stamp_s - newest[0] <= within_s else None

    def _tolerance(self) -> float:
        travel = 0.0
        if len(self.recent) >= 2:
            values = [v for _, v in self.recent[-5:]]
            travel = max(values) - min(values)
        return max(self.limits.least_jump, 6.0 * self.sigma + 2.0 * travel + 3.0 * self.known_step)

    def _wild(self, stamp_s: float, value: float) -> bool:
        if len(self.recent) < 3:
            return False
        last_s, last = self.recent[-1]
        if abs(value - last) <= self.limits.least_jump or stamp_s - last_s > self.gap_s:
            return False
        tolerance = self._tolerance()
        if abs(value - last) <= tolerance:
            return False
        last_five = sorted(v for _, v in self.recent[-5:])
        middle = last_five[len(last_five) // 2]
        return abs(value - middle) > tolerance

    def _accept(self, stamp_s: float, value: float) -> None:
        recent = self.recent
        if recent:
            before_s, before = recent[-1]
            self._note_level(stamp_s, value - before)
            spacing = stamp_s - before_s
            if 0.0 < spacing < self.gap_s:
                self.period_s += 0.1 * (spacing - self.period_s)
                if len(recent) >= 2:
                    self._learn_noise(stamp_s, value)
        self.accepted += 1
        recent.append((stamp_s, value))
        if len(recent) > MOST_RECENT:
            del recent[0]
        for kept, apart_s in ((self.sparse, SPARSE_S), (self.sparser, SPARSER_S)):
            if not kept or stamp_s - kept[-1][0] >= apart_s:
                kept.append((stamp_s, value))
                if len(kept) > MOST_SPARSE:
                    del kept[0]

    def _note_level(self, stamp_s: float, signed: float) -> None:
        change = abs(signed)
        if change <= SAME_LEVEL:
            self.run += 1
            if self._stopped_suddenly(stamp_s):
                self.changes_since_stop = 0
            return
        if self.step > 0.0:
            self._learn_step(change)
        if signed * self.last_change < 0.0:
            self.reversed_s = stamp_s
        self.last_change = signed
        self.run, self.run_noise, self.run_start_s = 1, self.noise, stamp_s
        self.stop_check_s = STRETCHES_S[0]
        self.changes += 1
        self.changes_since_stop += 1

    def _learn_step(self, change: float) -> None:
        """Take the step as finer only after several changes say so: one wild value must not spoil it."""
        finer = common_step(self.step, change, self.limits.least_step)
        early = self.changes < EARLY_CHANGES and finer > 0.0
        if self.step == math.inf or finer > 0.9 * self.step or early:
            self.step = min(finer, self.step)
            self.off_grid = max(0.0, self.off_grid - 0.05)
            return
        self.off_grid += 1.0
        self.finer_step = common_step(self.finer_step, finer, self.limits.least_step)
        if self.off_grid >= OFF_GRID_ENOUGH:
            self.step, self.finer_step, self.off_grid = self.finer_step, math.inf, 0.0

    def _learn_noise(self, stamp_s: float, value: float) -> None:
        """Update the noise from how far the middle of three readings lies off the line through its neighbors."""
        (first_s, first), (middle_s, middle) = self.recent[-2], self.recent[-1]
        span = stamp_s - first_s
        if span <= 0.0 or span > 3.0 * self.gap_s:
            return
        share = (middle_s - first_s) / span
        off = middle - first - share * (value - first)
        square = off * off / (1.0 + share * share + (1.0 - share) ** 2)
        known = max(self.noise, 0.3 * self.limits.noise) ** 2
        start = self.noise * self.noise if self.accepted > 2 else known
        weight = max(0.05, 1.0 / (self.accepted + 1.0))
        self.noise = math.sqrt(start + weight * (min(square, 9.0 * known) - start))
