"""One hookup's session: its two series merged in event time, bin by bin, into its settling.

A bin is taken only when both sensors have passed its end, so what comes out depends on the two series alone and not
on when they arrived: a backlog gives what live delivery gives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from ingest.estimator.sensor_series import FLOOR_OF_STEP, PRESSURE_LIMITS, TEMPERATURE_LIMITS, SensorSeries
from ingest.estimator.settling import Measured, Settling
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pairing import EquilibriumPair, Pairing, pair_of
from ingest.wire.hookup import Hookup
from ingest.wire.senml import Reading

MOST_BESIDE = 64
LONGEST_QUEUE = 8192
"""Readings that wait for the other sensor; beyond it the oldest are given up."""
FINE_BIN_S = 10.0
CALM_BINS = ((3600.0, 60.0), (900.0, 30.0), (400.0, 20.0))
"""After so long without a disturbance bins are so wide, [s]: what is left to see is slower."""
UNSETTLED_BIN_S = 20.0
"""No wider before it has settled: a claim must not be made of what was true half a minute ago, [s]."""

LOW_PERCENT, EMPTY_PERCENT = 15.0, 5.0
"""A battery below the first is told; below the second its device's readings are not taken (a guess, no source), [%]."""
LIQUID_COLUMN_PA = 2500.0
"""A dip tube may stand full of liquid up to its valve: at most 0.4 m of 1100 kg/m3, over root 3 (computed), [Pa]."""
SENSED = frozenset(("wall-temperature", "gauge-pressure", "absolute-pressure"))


class Sample(NamedTuple):
    """One accepted reading with its noise variance as known when it was accepted."""

    stamp_s: float
    value: float
    variance: float
    doubtful: bool = False
    changes: int = 0
    suspect: bool = False


@dataclass(slots=True)
class Session:
    """Both sensors of one hookup; pressures are absolute [Pa], temperatures [K]."""

    hookup: Hookup
    settling: Settling
    atmosphere_pa: float
    clamp: SensorSeries = field(default_factory=lambda: SensorSeries(TEMPERATURE_LIMITS))
    gauge: SensorSeries = field(default_factory=lambda: SensorSeries(PRESSURE_LIMITS))
    clamp_queue: list[Sample] = field(default_factory=list)
    gauge_queue: list[Sample] = field(default_factory=list)
    bin_end_s: float = -math.inf
    bin_s: float = FINE_BIN_S
    is_gauge: bool = True
    pairing: Pairing = field(default_factory=Pairing)
    beside: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    battery: dict[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, hookup: Hookup, settings: SettlingSettings) -> Session:
        """Return a new session of a hookup."""
        settling = Settling(settings, hookup.probe_lag_s)
        settling.column_pa = LIQUID_COLUMN_PA if hookup.valve == "liquid" else 0.0
        return cls(hookup, settling, hookup.atmosphere_pa)

    def take(self, device: str, reading: Reading, arrival_s: float) -> str | None:
        """Take one reading of the device so named; returns why it was not accepted, or None."""
        stamp_s, quantity, value = reading.stamp_s, reading.quantity, reading.value
        if quantity == "battery":
            self._know_battery(device, value)
            return None
        if quantity in SENSED and self.battery.get(device, 100.0) <= EMPTY_PERCENT:
            return "battery-empty"
        if quantity == "wall-temperature":
            if device != self.hookup.temperature_device:
                return "other-sensor"
            return self.take_clamp(stamp_s, value, arrival_s)
        if quantity in ("gauge-pressure", "absolute-pressure"):
            is_gauge = quantity == "gauge-pressure"
            if device != self.hookup.pressure_device or (self.gauge.accepted and is_gauge != self.is_gauge):
                return "other-sensor"
            self.is_gauge = is_gauge
            return self.take_gauge(stamp_s, value + (self.atmosphere_pa if is_gauge else 0.0), arrival_s)
        self._remember(quantity, stamp_s, value)
        return None

    def _know_battery(self, device: str, percent: float) -> None:
        if device in (self.hookup.pressure_device, self.hookup.temperature_device):
            self.battery[device] = percent
            self.settling.battery_low = min(self.battery.values()) <= LOW_PERCENT

    def _remember(self, quantity: str, stamp_s: float, value: float) -> None:
        kept = self.beside.setdefault(quantity, [])
        if not kept or (stamp_s > kept[-1][0] and value != kept[-1][1]):
            kept.append((stamp_s, value))
            if len(kept) > MOST_BESIDE:
                del kept[0]

    def beside_at(self, quantity: str, stamp_s: float) -> float | None:
        """Return the last value of a quantity beside the pair (mass, air) not newer than `stamp_s`, or None."""
        for at_s, value in reversed(self.beside.get(quantity, ())):
            if at_s <= stamp_s:
                return value
        return None

    def _look_beside(self, end_s: float) -> None:
        """Tell the settling the air's temperature and the weight as they were then."""
        if not self.beside:
            return
        self.settling.air_k = self.beside_at("ambient-temperature", end_s)
        mass_kg = self.beside_at("mass", end_s)
        if mass_kg is not None:
            self.settling.weigh(end_s, mass_kg)

    def take_clamp(self, stamp_s: float, value: float, arrival_s: float) -> str | None:
        """Take a wall temperature [K]; returns why it was not accepted, or None."""
        return self._take(self.clamp, self.clamp_queue, stamp_s, value, arrival_s)

    def take_gauge(self, stamp_s: float, value: float, arrival_s: float) -> str | None:
        """Take an absolute pressure [Pa]; returns why it was not accepted, or None."""
        return self._take(self.gauge, self.gauge_queue, stamp_s, value, arrival_s)

    def new_pair(self) -> EquilibriumPair | None:
        """Return the pair that has settled with the last bin, or None."""
        mass = self.beside_at("mass", self.settling.time_s)
        estimate = self.pairing.consider(self.settling, mass)
        if estimate is None:
            return None
        stamp_s = estimate.stamp_s
        return pair_of(
            self.hookup,
            estimate,
            self.settling.opened_s,
            is_gauge=self.is_gauge,
            atmosphere_pa=self.atmosphere_pa,
            barometer_pa=self.beside_at("ambient-pressure", stamp_s),
            reasons=self.settling.reasons(),
            mass_kg=mass,
            ambient_k=self.beside_at("ambient-temperature", stamp_s),
        )

    @property
    def newest_s(self) -> float:
        """Stamp of the newest reading of either sensor, [s]."""
        return max(self.clamp.newest_s, self.gauge.newest_s)

    def is_stale(self, now_s: float) -> bool:
        """Whether either sensor has been silent for too long at `now_s` [s]."""
        return any(now_s - series.newest_s > series.gap_s for series in (self.clamp, self.gauge))

    def _take(
        self, series: SensorSeries, queue: list[Sample], stamp_s: float, value: float, arrival_s: float
    ) -> str | None:
        accepted, reason = series.take(stamp_s, value, arrival_s)
        if accepted:
            judged = (series.reading_variance(), series.is_doubtful, series.changes, series.is_suspect)
            queue += [Sample(at_s, good, *judged) for at_s, good in accepted]
        if len(queue) > LONGEST_QUEUE:
            del queue[0]
            return "queue-full"
        return reason

    def _width(self, calm_s: float) -> float:
        if self.settling.bank is None:
            return FINE_BIN_S
        for longer_s, width_s in CALM_BINS:
            if calm_s > longer_s and (self.settling.settled or width_s <= UNSETTLED_BIN_S):
                return width_s
        return FINE_BIN_S

    def advance(self) -> bool:
        """Take the next bin if both sensors have passed its end; returns whether one was taken.

        Raises ArithmeticError where readings make no sense to the filters; the session has then begun anew.
        """
        clamps, gauges = self.clamp_queue, self.gauge_queue
        if not clamps or not gauges:
            return False
        ready_s = min(clamps[-1].stamp_s, gauges[-1].stamp_s)
        if ready_s < self.bin_end_s:
            return False
        first_s = min(clamps[0].stamp_s, gauges[0].stamp_s)
        if first_s >= self.bin_end_s:
            self.bin_end_s = (math.floor(first_s / self.bin_s) + 1.0) * self.bin_s
            if ready_s < self.bin_end_s:
                return False
        end_s = self.bin_end_s
        self.settling.steps = (self.gauge.known_step, self.clamp.known_step)
        self.settling.resolution[0] = _resolution(self.clamp)
        self.settling.resolution[1] = _resolution(self.gauge)
        clamp, self.settling.probe_stuck, last_clamp = _mean(clamps, end_s)
        gauge, self.settling.gauge_stuck, last_gauge = _mean(gauges, end_s)
        self.settling.ahead = Measured(*clamps[0][:3]) if clamps else None
        known = self.settling.changes
        if last_clamp is not None:
            self.settling.probe_suspect = last_clamp.suspect
            known = (known[0], last_clamp.changes)
        if last_gauge is not None:
            known = (last_gauge.changes, known[1])
        self.settling.changes = known
        self._look_beside(end_s)
        try:
            self.settling.step(end_s, clamp, gauge)
        except ArithmeticError:
            self.settling = Settling(self.settling.settings, self.hookup.probe_lag_s)
            self._next_bin(end_s, FINE_BIN_S)
            raise
        self._next_bin(end_s, self._width(end_s - self.settling.opened_s))
        return True

    def _next_bin(self, end_s: float, width_s: float) -> None:
        self.bin_s = width_s
        self.bin_end_s = (math.floor(end_s / width_s) + 1.0) * width_s


def _mean(queue: list[Sample], end_s: float) -> tuple[Measured | None, bool, Sample | None]:
    """Return the mean of what came before `end_s` [s], whether the sensor was doubtful in it, and the last of it."""
    doubtful, last = False, None
    count, stamps, values = 0, 0.0, 0.0
    for sample in queue:
        if sample.stamp_s >= end_s:
            break
        doubtful, last = doubtful or sample.doubtful, sample
        count += 1
        stamps += sample.stamp_s - end_s
        values += sample.value
    if last is None:
        return None, False, None
    del queue[:count]
    return Measured(end_s + stamps / count, values / count, last.variance / count, count), doubtful, last


def _resolution(series: SensorSeries) -> float:
    """Return what rounding leaves after averaging: rms (q/(pi sqrt 2)) exp(-2 pi^2 s^2/q^2)."""
    step = series.known_step
    if step <= 0.0:
        return 0.0
    left = step / (math.pi * math.sqrt(2.0)) * math.exp(-2.0 * (math.pi * series.noise / step) ** 2)
    return min(left, step * FLOOR_OF_STEP)
