"""Whether a hookup's temperature and pressure belong together yet, and what they say if they do.

The clamp settles in minutes, the cylinder in hours. A filter bank estimates both at once from the clamp and from the
gauge read as a thermometer; the state is `settled` when the probability that the two differ by more than the budget
is small and has stayed so. Time is the readings' own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from ingest.estimator.bin_input import BinInput, Measured, SensorSetup
from ingest.estimator.drift_history import DriftHistory
from ingest.estimator.filter_bank import DRIFT, LIQUID, OFFSET, FilterBank
from ingest.estimator.probe_offset import DOUBTED, NO_SHIFT, Offset, OffsetMonitor, Shift
from ingest.estimator.saturation_thermometer import pressure_at, pressure_temperature, temperature_per_pascal
from ingest.estimator.sensor_series import ENOUGH_CHANGES
from ingest.estimator.settling_settings import SettlingSettings
from ingest.estimator.stuck_sensor import SensorLevels, StuckWatch
from ingest.estimator.two_phase_test import AFTER_S, TwoPhaseTest

PRUNE_AFTER_S = 900.0
"""A clamp settled for so long needs few filters (a choice), [s]."""
QUIET_CUSUM = 6.0
"""While the CUSUM of the normalized innovation squared (NIS) is beyond this nothing is claimed, and the offset is not
taken as a reference (a choice) [-]."""
UNEXPECTED = 3.0
"""A reading so many standard deviations from what was expected holds a claim back (a choice) [-]."""
DISTURBED = 20.0
"""A CUSUM above this is a disturbance (a choice) [-]."""
FLOW_KG = 0.05
"""A change of the gross mass by this much is something put in or drawn (a choice), [kg]."""
ACTED_ON = 0.1
"""Chance that a cylinder is at rest after something was put in or drawn: that moves heat (a judgement), [-]."""
FILLED_K = 1.0
"""Pressure that steps up by more than this, as a temperature, is something put in (a choice), [K]."""


class Estimate(NamedTuple):
    """Temperature and pressure that belong to the same instant.

    `uncertainty_k` covers what the settling leaves open, `pressure_uncertainty_pa` the gauge's steps and noise and
    what a dip tube under it may hold.
    """

    stamp_s: float
    temp_k: float
    pressure_pa: float
    uncertainty_k: float
    pressure_uncertainty_pa: float
    drift_k_s: float
    lag_s: float | None


@dataclass(slots=True)
class Settling:
    """Settling of one hookup, fed bin by bin in event time; risk and CUSUM are [-]."""

    settings: SettlingSettings
    setup: SensorSetup = field(default_factory=SensorSetup)
    bin: BinInput = field(default_factory=lambda: BinInput(-math.inf))
    bank: FilterBank | None = None
    anchor_pa: float = 0.0
    anchor_k: float = 0.0
    opened_s: float = 0.0
    clamp_readings: int = 0
    low_risk_since_s: float | None = None
    settled: bool = False
    risk: float = 1.0
    disturbed_until_s: float = -math.inf
    nis_cusum: list[float] = field(default_factory=lambda: [0.0, 0.0])
    offset_monitor: OffsetMonitor = field(default_factory=OffsetMonitor)
    quiet_sensor: int | None = None
    changes_then: tuple[int, int] = (0, 0)
    seen_without_liquid: bool = False
    two_phase_test: TwoPhaseTest | None = None
    pressure_stepped: bool = False
    was_stuck: bool = False
    gauge_watch: StuckWatch = field(default_factory=StuckWatch)
    clamp_watch: StuckWatch = field(default_factory=StuckWatch)
    weighed_kg: float | None = None
    air_heard: bool = False
    drift_history: DriftHistory = field(default_factory=DriftHistory)
    creep: Shift = NO_SHIFT

    def _weigh(self, time_s: float, mass_kg: float) -> None:
        """Take the gross mass [kg]: while it changes, something flows."""
        before, self.weighed_kg = self.weighed_kg, mass_kg
        if before is None:
            return
        if abs(mass_kg - before) < FLOW_KG:
            self.weighed_kg = before
            return
        self._contents_moved(time_s, filled=mass_kg > before)

    def _contents_moved(self, time_s: float, *, filled: bool) -> None:
        self.pressure_stepped = True
        self.disturb(time_s, at_rest=ACTED_ON)
        if filled:
            self.seen_without_liquid = False
            self.offset_monitor.forget()
        else:
            self.offset_monitor.pressure_moved()

    def step(self, bin_: BinInput) -> None:
        """Take what one bin held."""
        self.bin, time_s = bin_, bin_.end_s
        clamp, gauge = bin_.clamp.mean, bin_.gauge.mean
        if bin_.mass_kg is not None:
            self._weigh(time_s, bin_.mass_kg)
        if self.bank is None:
            if clamp is None or gauge is None:
                return
            self._open(time_s, clamp, gauge)
        bank = self.bank
        assert bank is not None  # noqa: S101
        bank.predict(time_s)
        if not self._stuck(time_s):
            self._update(bank, time_s, clamp, gauge)
        self._judge(time_s)

    def _update(
        self, bank: FilterBank, time_s: float, clamp: Measured | None, gauge: Measured | None
    ) -> None:
        if gauge is not None:
            z = pressure_temperature(gauge.value, self.anchor_pa, self.anchor_k)
            per_pascal = temperature_per_pascal(gauge.value, z)
            variance = gauge.variance * per_pascal * per_pascal
            innovation = bank.update(bank.gauge_row(gauge.stamp_s - time_s), z, variance)
            self._test_innovation(0, *innovation, time_s)
            if clamp is not None:
                self._test_liquid(time_s, clamp.value, z)
                self._watch_levels(gauge, clamp, z, per_pascal)
        if clamp is not None:
            self.clamp_readings += clamp.readings
            innovation = bank.update(bank.clamp_row(clamp.stamp_s - time_s), clamp.value, clamp.variance)
            if self._test_innovation(1, *innovation, time_s):
                self._clamp_jumped(time_s, clamp.value)

    def _clamp_jumped(self, time_s: float, clamp_k: float) -> None:
        """A clamp that had settled was touched or is at fault; one that never has may go alone for want of liquid."""
        if self.offset_monitor.was_settled or self.two_phase_test is None:
            self.two_phase_test = TwoPhaseTest(time_s)
        else:
            self.two_phase_test.doubt(time_s, clamp_k)

    def _test_liquid(self, time_s: float, clamp_k: float, z: float) -> None:
        if self.two_phase_test is None or self.bin.battery_low:
            return
        self.two_phase_test.take(time_s, clamp_k, z)
        tested = self.two_phase_test.has_liquid
        if tested is not None:
            self.seen_without_liquid = not tested

    def _watch_levels(self, gauge: Measured, clamp: Measured, z: float, per_pascal: float) -> None:
        known = self.bin.gauge
        gauge_levels = SensorLevels(known.changes, gauge.readings, known.step * per_pascal, clamp.value)
        self.gauge_watch.take(gauge_levels, may_judge=gauge.stamp_s - self.opened_s > AFTER_S)
        known = self.bin.clamp
        self.clamp_watch.take(SensorLevels(known.changes, clamp.readings, known.step, z), may_judge=True)

    @property
    def time_s(self) -> float:
        """End of the last bin, [s]; minus infinity before the first."""
        return self.bank.time_s if self.bank is not None else -math.inf

    def _stuck(self, time_s: float) -> bool:
        """Return whether a sensor repeats itself; what it said until this was noticed is forgotten."""
        now = self.bin.clamp.is_stuck or self.bin.gauge.is_stuck
        if now and not self.was_stuck:
            if self.bin.clamp.is_stuck and not self.offset_monitor.moved:
                # The offset has been followed while it stood; that of a probe that had moved before is older.
                self.offset_monitor.forget()
            self.disturb(time_s, touched=False)
            self.disturbed_until_s = time_s
        self.was_stuck = now
        if now:
            self.clamp_readings = 0
        return now

    def _open(self, time_s: float, clamp: Measured, gauge: Measured) -> None:
        self.anchor_pa, self.anchor_k = gauge.value, clamp.value
        self.opened_s = time_s
        self.two_phase_test = TwoPhaseTest(time_s)
        self.bank = FilterBank(self.settings.bank, time_s, clamp.value, self.setup.lag_s)

    def _test_innovation(self, channel: int, innovation: float, variance: float, time_s: float) -> bool:
        """Add the normalized innovation squared to its CUSUM; returns whether that makes a disturbance."""
        nis = min(innovation * innovation / variance, 20.0)
        self.nis_cusum[channel] = max(0.0, self.nis_cusum[channel] + nis - 3.0)
        if self.nis_cusum[channel] <= DISTURBED:
            return False
        if channel == 0:
            self._contents_moved(time_s, filled=innovation > FILLED_K)
        else:
            self.disturb(time_s)
        self.quiet_sensor = channel
        return True

    def disturb(self, time_s: float, at_rest: float | None = None, *, touched: bool = True) -> None:
        """Reopen what a touched clamp, a moved valve or a filling makes doubtful.

        Parameters
        ----------
        time_s : float
            When, seconds since 1970 UTC, [s].
        at_rest : float or None
            Chance that the cylinder is at rest all the same, or None for the usual one, [-].
        touched : bool
            Whether the clamp may have been put on again.
        """
        if self.bank is not None:
            self.bank.widen()
            self.bank.reopen(liquid=True, drift=True, offset=True, on_wall=True)
            self.bank.know_lag(self.setup.lag_s)
            self.bank.forget_weights(at_rest)
        self.opened_s = time_s
        self.changes_then, self.quiet_sensor = self._changes, None
        self.nis_cusum = [0.0, 0.0]
        self.offset_monitor.disturbed(self.settings.offset, touched=touched)
        self.clamp_readings = 0
        self.air_heard = False
        self.drift_history, self.creep = DriftHistory(), NO_SHIFT
        self.settled = False
        self.low_risk_since_s = None
        self.disturbed_until_s = time_s + self.settings.disturbed_s

    def _judge(self, time_s: float) -> None:
        s = self.settings
        assert self.bank is not None  # noqa: S101
        self._hear_air(time_s)
        self.risk = self.bank.risk(s.budget_k, s.gap_tail * s.gap_time_s)
        self._compare_offset(time_s)
        early = time_s - self.opened_s < s.first_pair_s or self.clamp_readings < s.first_pair_readings
        is_stuck = self.gauge_watch.is_stuck or self.clamp_watch.is_stuck
        blocked = self.offset_monitor.moved or self.is_shifted or self.has_liquid is False or is_stuck
        if blocked:
            self.settled = False
        if early or blocked or self._still_dead() or self.risk > s.risk_in:
            self.low_risk_since_s = None
        elif self.low_risk_since_s is None:
            self.low_risk_since_s = time_s
        if self.settled and self.risk > s.risk_out:
            self.settled = False
        if (
            not self.settled
            and self.low_risk_since_s is not None
            and time_s - self.low_risk_since_s >= s.hold_s
            and max(self.nis_cusum) <= QUIET_CUSUM
            and not self.bin.clamp.is_suspect
            and not self._begins_to_move()
        ):
            self.settled = True
        if self.settled and time_s - self.opened_s > PRUNE_AFTER_S:
            self.bank.prune()

    def _begins_to_move(self) -> bool:
        """Whether the clamp's next reading, which closed the bin, is not what is expected of it."""
        bank, ahead = self.bank, self.bin.ahead
        if bank is None or ahead is None:
            return False
        innovation, variance = bank.expect(bank.clamp_row(ahead.stamp_s - bank.time_s), ahead.value)
        return innovation * innovation > UNEXPECTED**2 * (variance + ahead.variance)

    def _hear_air(self, time_s: float) -> None:
        """Let the air say once whether the cylinder is likely to be at rest: when the clamp's first lag is over."""
        if self.bin.air_k is None or self.air_heard or time_s - self.opened_s < self.settings.first_pair_s:
            return
        self.air_heard = True
        assert self.bank is not None  # noqa: S101
        self.bank.hear_air(self.bin.air_k)

    @property
    def _changes(self) -> tuple[int, int]:
        return self.bin.gauge.changes, self.bin.clamp.changes

    def _still_dead(self) -> bool:
        """Whether the sensor that jumped has repeated one level since: it may be stuck rather than settled."""
        which = self.quiet_sensor
        return which is not None and self._changes[which] - self.changes_then[which] < ENOUGH_CHANGES

    def _compare_offset(self, time_s: float) -> None:
        """Tell a probe that has come to sit otherwise by its offset, once that is known again."""
        bank = self.bank
        assert bank is not None  # noqa: S101
        means = (bank.weight @ bank.state).tolist()
        offset, variance = bank.mixed(OFFSET)
        now = Offset(offset, variance, means[LIQUID], means[DRIFT], time_s)
        s = self.settings
        if variance <= s.offset_known_k**2 and max(self.nis_cusum) <= QUIET_CUSUM:
            self.creep = self.drift_history.creep(now, s.offset, s.budget_k)
            if time_s - self.opened_s >= s.first_pair_s:
                self.offset_monitor.compare(now, s.offset)
                self.offset_monitor.check_trusted(now, s.offset, s.budget_k, is_settled=self.settled)
        if self.drift_history.is_due(time_s, self.opened_s):
            self.drift_history.note(now)

    @property
    def is_shifted(self) -> bool:
        """Whether the clamp may sit otherwise than it did, by more than the budget."""
        return not self.settled and max(self.offset_monitor.shift.risk, self.creep.risk) > DOUBTED

    def estimate(self) -> Estimate | None:
        """Return what temperature and pressure would be without the clamp's lag, or None before the first bin."""
        bank, s = self.bank, self.settings
        if bank is None:
            return None
        temp = bank.mixed(LIQUID)[0]
        offset, drift = bank.mixed(OFFSET)[0], bank.mixed(DRIFT)[0]
        pressure = pressure_at(temp - offset, self.anchor_pa, self.anchor_k)
        clamp_resolution, gauge_resolution = self.bin.clamp.resolution, self.bin.gauge.resolution
        monitor = self.offset_monitor
        beside = math.hypot(
            s.model_k, clamp_resolution, monitor.shift.rms_k, monitor.carried_k, self.creep.rms_k
        )
        uncertainty = bank.standard_uncertainty_k(s.gap_time_s, beside)
        pressure_uncertainty = math.hypot(gauge_resolution, self.setup.column_pa)
        return Estimate(bank.time_s, temp, pressure, uncertainty, pressure_uncertainty, drift, bank.lag_s())

    def provisional(self) -> Estimate | None:
        """Return the pair as it stands, or None while the clamp may still be in the hand."""
        s = self.settings
        if self.bank is None or self.bank.time_s - self.opened_s < s.first_pair_s:
            return None
        if self.clamp_readings < s.first_pair_readings:
            return None
        estimate = self.estimate()
        return estimate if estimate is not None and estimate.uncertainty_k <= s.worst_pair_k else None

    @property
    def has_liquid(self) -> bool | None:
        """Whether liquid was seen, or None while it could not be tested; what was seen last stands."""
        if self.seen_without_liquid:
            return False
        return self.two_phase_test.has_liquid if self.two_phase_test is not None else None

    def reasons(self, *, battery_low: bool) -> tuple[str, ...]:
        """Return what stands in the way, or what a pair could not have seen."""
        clamp, gauge = self.bin.clamp, self.bin.gauge
        held = not self.settled and self.risk <= self.settings.risk_in
        found = (
            ("probe-moved", self.offset_monitor.moved),
            ("probe-stuck", clamp.is_stuck or self.clamp_watch.is_stuck),
            ("probe-suspect", held and clamp.is_suspect and not clamp.is_stuck),
            ("offset-changed", held and self.is_shifted and not self.offset_monitor.moved),
            (
                "gauge-stuck",
                gauge.is_stuck or (self.gauge_watch.is_stuck and self.has_liquid is not False),
            ),
            ("battery-low", battery_low),
            ("no-liquid", self.has_liquid is False),
            ("liquid-untested", self.has_liquid is None),
        )
        return tuple(name for name, there in found if there)

    def state(self) -> str:
        """Return the settling state in trade words, as of the last bin."""
        if self.bank is None:
            return "waiting"
        if self.bank.time_s < self.disturbed_until_s:
            return "disturbed"
        if self.settled:
            return "settled"
        drift, variance = self.bank.mixed(DRIFT)
        if abs(drift) > self.settings.moving_k_s and drift * drift > 4.0 * variance:
            return "warming" if drift > 0 else "cooling"
        if self.clamp_readings < self.settings.first_pair_readings:
            return "waiting"
        return "settling"
