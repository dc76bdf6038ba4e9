"""One cylinder with its clamp and its gauge."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

from demo.physics.cylinder import Cylinder, Surroundings
from demo.physics.instruments import Clamp, ClampSpec, Gauge, GaugeSpec

STANDARD_ATMOSPHERE_PA = 101325.0
GRAVITY = 9.80665
"""[m/s2]."""
MOST_OF_PRESSURE = 0.1
"""A column that would take more than this share of the pressure off boils, and the tube fills with vapor; a
judgement, no source [-]."""


@dataclass(slots=True)
class Rig:
    """A cylinder and the two instruments on it; the caller steps it and owns the seed.

    Parameters
    ----------
    cylinder : Cylinder
        The cylinder and what it holds.
    clamp_spec, gauge_spec : ClampSpec, GaugeSpec
        The instruments.
    ambient_k : float
        Air temperature at the start, [K].
    rng : Random
        Source of the instruments' noise.
    atmosphere_pa : float
        Pressure of the air, [Pa].
    tare_kg : float
        Mass of the empty cylinder, [kg].
    dry_share : float
        Where the clamp sits: 0 on the wetted wall, 1 above the liquid, [-].
    column_m : float
        Liquid that stands in the dip tube above the surface, under a gauge on the liquid valve, [m].
    """

    cylinder: Cylinder
    clamp_spec: ClampSpec
    gauge_spec: GaugeSpec
    ambient_k: float
    rng: Random
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
    tare_kg: float = 13.0
    dry_share: float = 0.0
    column_m: float = 0.0
    clamp: Clamp = field(init=False)
    gauge: Gauge = field(init=False)
    elapsed_s: float = field(init=False, default=0.0)

    def __post_init__(self) -> None:
        self.clamp = Clamp(self.clamp_spec, self.ambient_k, self.clamped_wall_k, self.ambient_k)
        self.gauge = Gauge(self.gauge_spec)

    def step(self, dt_s: float, around: Surroundings | None = None, finger_k: float | None = None) -> None:
        """Advance cylinder and clamp by `dt_s` [s] in the given surroundings."""
        around = around or Surroundings(self.ambient_k)
        self.ambient_k = around.ambient_k
        pieces = max(1, math.ceil(dt_s / 2.0))
        for _ in range(pieces):
            self.cylinder.step(dt_s / pieces, around)
            self.clamp.step(dt_s / pieces, self.clamped_wall_k, self.ambient_k, finger_k)
        self.elapsed_s += dt_s

    @property
    def clamped_wall_k(self) -> float:
        """Temperature of the wall under the clamp, [K]."""
        cylinder = self.cylinder
        return cylinder.wall_k + self.dry_share * (cylinder.dry_wall_k - cylinder.wall_k)

    @property
    def pressure_at_gauge_pa(self) -> float:
        """Absolute pressure at the gauge: a column of liquid above the surface takes its weight off, [Pa]."""
        pressure = self.cylinder.pressure_pa
        weight = self.cylinder.contents.liquid_density * GRAVITY * self.column_m
        return pressure - min(weight, MOST_OF_PRESSURE * pressure)

    def clamp_reading(self) -> float:
        """Wall temperature as the clamp shows it, [K]."""
        return self.clamp.reading(self.rng)

    def gauge_reading(self) -> float:
        """Gauge pressure as the gauge shows it, [Pa]."""
        return self.gauge.reading(self.pressure_at_gauge_pa, self.atmosphere_pa, self.rng)

    def scale_reading(self) -> float:
        """Gross mass on a scale under the cylinder, [kg], in steps of 10 g."""
        return round((self.cylinder.net_kg + self.tare_kg + self.rng.gauss(0.0, 0.003)) / 0.01) * 0.01
