"""One hookup's session: its two series merged in event time, bin by bin, into its settling.

A bin is taken only when both sensors have passed its end, so what comes out depends on the two series alone and not
on when they arrived: a backlog gives what live delivery gives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from ingest.estimator.bin_input import BinInput, Measured, SensorBin, SensorSetup
from ingest.estimator.sensor_series import FLOOR_OF_STEP, PRESSURE_LIMITS, TEMPERATURE_LIMITS, SensorSeries
from ingest.estimator.settling import Settling
from ingest.estimator.settling_settings import SettlingSettings
from ingest.sessions.pairing import EquilibriumPair, Pairing, pair_of
from ingest.wire.hookup import Hookup
from ingest.wire.reading import Reading

MOST_BESIDE = 64
HEARD_READINGS = 3
"""After so many of one sensor the other one should have been heard too."""
SLOW_PERIOD_S = 60.0
"""At 90 s the first pair takes 30 to 66 minutes (computed with the settling bench); at 30 s some minutes, [s]."""
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
    is_stuck: bool = False
    changes: int = 0
    is_suspect: bool = False


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
        setup = SensorSetup(hookup.probe_lag_s, LIQUID_COLUMN_PA if hookup.valve == "liquid" else 0.0)
        return cls(hookup, Settling(settings, setup), hookup.atmosphere_pa)

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

    @property
    def battery_low(self) -> bool:
        """Whether the battery of either device is low, as last heard."""
        return min(self.battery.values(), default=100.0) <= LOW_PERCENT

    def reasons(self) -> tuple[str, ...]:
        """Return what stands in the way, or what a pair could not have seen."""
        return self.settling.reasons(battery_low=self.battery_low)

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
            reasons=self.reasons(),
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

    def lacking(self, now_s: float) -> tuple[str, ...]:
        """Return what of the hookup's readings is missing at `now_s` [s] while the rest comes in.

        `no-pressure`, `no-temperature`: that sensor was never heard or fell silent, and the other one speaks;
        `slow-readings`: they come so far apart that settling takes half an hour and more.
        """
        found = []
        for reason, series, other in (
            ("no-pressure", self.gauge, self.clamp),
            ("no-temperature", self.clamp, self.gauge),
        ):
            speaks = other.accepted >= HEARD_READINGS and now_s - other.newest_s <= other.gap_s
            if speaks and now_s - series.newest_s > series.gap_s:
                found.append(reason)
        if max(self.gauge.spacing_s, self.clamp.spacing_s) > SLOW_PERIOD_S:
            found.append("slow-readings")
        return tuple(found)

    def _take(
        self, series: SensorSeries, queue: list[Sample], stamp_s: float, value: float, arrival_s: float
    ) -> str | None:
        accepted, reason = series.take(stamp_s, value, arrival_s)
        if accepted:
            judged = (series.reading_variance(), series.is_stuck, series.changes, series.is_suspect)
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

        Raises ArithmeticError where readings make no sense to the filters; the session has then started over.
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
        try:
            self.settling.step(self._bin_input(end_s))
        except ArithmeticError:
            self.settling = Settling(self.settling.settings, self.settling.setup)
            self._next_bin(end_s, FINE_BIN_S)
            raise
        self._next_bin(end_s, self._width(end_s - self.settling.opened_s))
        return True

    def _bin_input(self, end_s: float) -> BinInput:
        """Take the bin's readings off the queues and return everything that is known of it."""
        before = self.settling.bin
        clamp = _sensor_bin(self.clamp, self.clamp_queue, end_s, before.clamp)
        gauge = _sensor_bin(self.gauge, self.gauge_queue, end_s, before.gauge)
        return BinInput(
            end_s,
            clamp,
            gauge,
            ahead=Measured(*self.clamp_queue[0][:3]) if self.clamp_queue else None,
            air_k=self.beside_at("ambient-temperature", end_s),
            mass_kg=self.beside_at("mass", end_s),
            battery_low=self.battery_low,
        )

    def _next_bin(self, end_s: float, width_s: float) -> None:
        self.bin_s = width_s
        self.bin_end_s = (math.floor(end_s / width_s) + 1.0) * width_s


def _sensor_bin(series: SensorSeries, queue: list[Sample], end_s: float, before: SensorBin) -> SensorBin:
    """Return what one sensor said before `end_s` [s]; one that said nothing is as it was in the bin before."""
    stuck, last = False, None
    count, stamps, values = 0, 0.0, 0.0
    for sample in queue:
        if sample.stamp_s >= end_s:
            break
        stuck, last = stuck or sample.is_stuck, sample
        count += 1
        stamps += sample.stamp_s - end_s
        values += sample.value
    step, resolution = series.known_step, _resolution(series)
    if last is None:
        return SensorBin(None, False, before.is_suspect, before.changes, step, resolution)
    del queue[:count]
    mean = Measured(end_s + stamps / count, values / count, last.variance / count, count)
    return SensorBin(mean, stuck, last.is_suspect, last.changes, step, resolution)


def _resolution(series: SensorSeries) -> float:
    """Return what rounding leaves after averaging: rms (q/(pi sqrt 2)) exp(-2 pi^2 s^2/q^2)."""
    step = series.known_step
    if step <= 0.0:
        return 0.0
    left = step / (math.pi * math.sqrt(2.0)) * math.exp(-2.0 * (math.pi * series.noise / step) ** 2)
    return min(left, step * FLOOR_OF_STEP)
