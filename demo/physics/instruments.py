"""A pipe clamp with two lags and a pressure gauge with zero, gain, noise and steps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random


@dataclass(frozen=True, slots=True)
class ClampSpec:
    """A surface thermometer.

    Parameters
    ----------
    lag_s : float
        First lag, [s].
    body_share : float
        Share of a disturbance that decays with the slow lag of the body, [-].
    body_lag_ratio : float
        Slow lag over first lag, [-].
    stem : float
        Share of the difference between wall and air that the clamp misses by conduction, [-].
    offset_k : float
        Calibration offset, [K].
    noise_k : float
        Standard deviation of one reading, [K].
    step_k : float
        Resolution, [K].
    """

    lag_s: float = 60.0
    body_share: float = 0.06
    body_lag_ratio: float = 5.0
    stem: float = 0.01
    offset_k: float = 0.0
    noise_k: float = 0.05
    step_k: float = 0.1


class Clamp:
    """The clamp on its wall; `settle_k` is what it would show without lag, `sag_k` what a dying battery adds, [K]."""

    def __init__(self, spec: ClampSpec, start_k: float, wall_k: float, ambient_k: float) -> None:
        self.spec = spec
        self.contact = 1.0
        self.sag_k = 0.0
        self.stuck_at_k: float | None = None
        self._fast = start_k
        self._slow = start_k
        self.settle_k = self._target(wall_k, ambient_k)

    def _target(self, wall_k: float, ambient_k: float) -> float:
        held = self.contact * (1.0 - self.spec.stem)
        return ambient_k + held * (wall_k - ambient_k)

    def step(self, dt_s: float, wall_k: float, ambient_k: float, finger_k: float | None = None) -> None:
        """Advance by `dt_s` [s]; a finger at `finger_k` [K] takes the place of half the wall."""
        target = self._target(wall_k, ambient_k)
        if finger_k is not None:
            target = 0.5 * (target + finger_k)
        self.settle_k = target
        lag = self.spec.lag_s
        self._fast += (target - self._fast) * -math.expm1(-dt_s / lag)
        self._slow += (target - self._slow) * -math.expm1(-dt_s / (lag * self.spec.body_lag_ratio))

    @property
    def true_k(self) -> float:
        """What the clamp's element is at, without offset, noise and steps, [K]."""
        share = self.spec.body_share
        return (1.0 - share) * self._fast + share * self._slow

    def move(self, start_k: float) -> None:
        """Put the clamp on again, starting from `start_k` [K]."""
        self._fast = self._slow = start_k

    def reading(self, rng: Random) -> float:
        """One reading [K]."""
        if self.stuck_at_k is not None:
            return self.stuck_at_k
        value = self.true_k + self.sag_k + self.spec.offset_k + rng.gauss(0.0, self.spec.noise_k)
        return _stepped(value - 273.15, self.spec.step_k) + 273.15


@dataclass(frozen=True, slots=True)
class GaugeSpec:
    """A pressure gauge, its errors in [Pa] and its gain error as a share.

    Parameters
    ----------
    zero_pa : float
        Zero offset, [Pa].
    gain : float
        Gain error, [-].
    noise_pa : float
        Standard deviation of one reading, [Pa].
    step_pa : float
        Resolution, [Pa].
    """

    zero_pa: float = 0.0
    gain: float = 0.0
    noise_pa: float = 500.0
    step_pa: float = 689.4757


class Gauge:
    """A gauge on a valve."""

    def __init__(self, spec: GaugeSpec) -> None:
        self.spec = spec
        self.stuck_at_pa: float | None = None

    def reading(self, pressure_pa: float, atmosphere_pa: float, rng: Random) -> float:
        """One gauge pressure [Pa] for an absolute pressure at the valve [Pa] and the air's pressure [Pa]."""
        if self.stuck_at_pa is not None:
            return self.stuck_at_pa
        value = (pressure_pa - atmosphere_pa) * (1 + self.spec.gain) + self.spec.zero_pa
        return _stepped(value + rng.gauss(0.0, self.spec.noise_pa), self.spec.step_pa)


def _stepped(value: float, step: float) -> float:
    return round(value / step) * step if step > 0 else value
