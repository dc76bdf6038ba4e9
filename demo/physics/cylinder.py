"""A closed cylinder as four lumped temperatures: wetted wall, bulk liquid, surface layer, dry wall."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from random import Random

from demo.physics.contents import Contents

STEEL_HEAT_CAPACITY = 480.0
"""[J/(kg K)], from memory."""
LIQUID_CONDUCTIVITY = 0.085
"""[W/(m K)], typical of liquid refrigerants, from memory."""
STIRRED_VAPOUR = 5.0
"""[W/K], between the two halves of a cylinder of vapor alone; a guess."""


@dataclass(frozen=True, slots=True)
class CylinderSpec:
    """Shape and surroundings of one cylinder.

    Parameters
    ----------
    water_volume_m3 : float
        Water volume, [m3].
    steel_kg : float
        Mass of the shell, [kg].
    diameter_m, height_m : float
        Outer dimensions of the shell, [m].
    outside_film : float
        Heat transfer coefficient to the air, [W/(m2 K)].
    surface_share : float
        Mass share of the liquid in the surface layer, [-].
    plume_share : float
        Share of the heat from a warm wall that rises into the surface layer, [-].
    inside_film : float
        Inside film of free convection per cube root of the difference (160, Churchill and Chu, from memory),
        [W/(m2 K^(4/3))].
    condensing_film : float
        Heat transfer to a dry wall colder than the vapor, [W/(m2 K)].
    """

    water_volume_m3: float = 0.0217
    steel_kg: float = 12.0
    diameter_m: float = 0.31
    height_m: float = 0.42
    outside_film: float = 7.5
    surface_share: float = 0.06
    plume_share: float = 0.1
    inside_film: float = 160.0
    condensing_film: float = 50.0

    @classmethod
    def draw(cls, rng: Random) -> CylinderSpec:
        """Draw a recovery cylinder of a common size, 12 to 55 litres of water."""
        volume = rng.choice((0.0119, 0.0217, 0.0217, 0.0217, 0.0354, 0.0546))
        scale = (volume / 0.0217) ** (1 / 3)
        return cls(
            water_volume_m3=volume,
            steel_kg=12.0 * scale**2 * rng.uniform(0.85, 1.2),
            diameter_m=0.31 * scale,
            height_m=0.42 * scale * rng.uniform(0.9, 1.1),
            outside_film=rng.uniform(5.0, 10.0),
            surface_share=rng.uniform(0.03, 0.1),
            plume_share=rng.uniform(0.05, 0.3),
            inside_film=rng.uniform(110.0, 200.0),
            condensing_film=rng.uniform(20.0, 90.0),
        )

    @property
    def shell_area_m2(self) -> float:
        """Area of the shell [m2]."""
        return math.pi * self.diameter_m * self.height_m + 0.5 * math.pi * self.diameter_m**2


@dataclass(slots=True)
class Surroundings:
    """What acts on a cylinder during one step.

    Parameters
    ----------
    ambient_k : float
        Air temperature, [K].
    heat_w : float
        Heat put into the wetted wall (a belt; negative for ice), [W].
    sun_w : float
        Sun on the whole shell, [W].
    draw_kg_s : float
        Vapor drawn off at the air's pressure or above, [kg/s].
    liquid_draw_kg_s : float
        Liquid drawn off, [kg/s].
    fill_kg_s : float
        Liquid put in, [kg/s].
    fill_temp_k : float
        Temperature of what is put in, [K].
    """

    ambient_k: float
    heat_w: float = 0.0
    sun_w: float = 0.0
    draw_kg_s: float = 0.0
    liquid_draw_kg_s: float = 0.0
    fill_kg_s: float = 0.0
    fill_temp_k: float = 298.15


@dataclass(slots=True)
class Cylinder:
    """The thermal state of one cylinder; all four temperatures in [K], the charge in [kg]."""

    spec: CylinderSpec
    contents: Contents
    net_kg: float
    start_temp_k: float
    wall_k: float = field(init=False)
    liquid_k: float = field(init=False)
    surface_k: float = field(init=False)
    dry_wall_k: float = field(init=False)

    def __post_init__(self) -> None:
        self.wall_k = self.liquid_k = self.surface_k = self.dry_wall_k = self.start_temp_k

    @property
    def liquid_fraction(self) -> float:
        """Share of the water volume filled by liquid, [-]."""
        if not self.contents.has_liquid:
            return 0.0
        return min(1.0, self.net_kg / (self.contents.liquid_density * self.spec.water_volume_m3))

    @property
    def pressure_pa(self) -> float:
        """Absolute pressure [Pa]: saturation at the surface, or the gas law at the gas's mean temperature."""
        if self.contents.has_liquid:
            return self.contents.pressure_pa(self.surface_k)
        return self.contents.pressure_pa(0.5 * (self.liquid_k + self.surface_k))

    def step(self, dt_s: float, around: Surroundings) -> None:
        """Advance by `dt_s` [s]; split finely enough for the thin surface layer to stay stable."""
        pieces = max(1, math.ceil(dt_s / 2.0))
        for _ in range(pieces):
            self._advance(dt_s / pieces, around)

    def _advance(self, dt: float, around: Surroundings) -> None:
        spec, contents = self.spec, self.contents
        area = spec.shell_area_m2
        wet = min(0.97, 0.12 + 0.88 * self.liquid_fraction)
        section = 0.25 * math.pi * spec.diameter_m**2
        liquid_kg = max(self.net_kg, 0.15)
        surface_kg = max(0.05, spec.surface_share * liquid_kg)
        bulk_kg = max(0.1, liquid_kg - surface_kg)
        heat_capacity = contents.liquid_heat_capacity

        to_wall = spec.outside_film * area * wet * (around.ambient_k - self.wall_k)
        to_wall += around.heat_w + around.sun_w * wet
        to_dry = spec.outside_film * area * (1 - wet) * (around.ambient_k - self.dry_wall_k)
        to_dry += around.sun_w * (1 - wet)
        along_steel = 45.0 * math.pi * spec.diameter_m * 0.003 / (0.5 * spec.height_m)
        along = along_steel * (self.dry_wall_k - self.wall_k)

        inside = self._film(self.wall_k - self.liquid_k) * area * wet * (self.wall_k - self.liquid_k)
        rising = spec.plume_share * max(inside, 0.0)
        dry_gap = self.dry_wall_k - self.surface_k
        dry_film = 5.0 if dry_gap > 0 or not contents.has_liquid else spec.condensing_film
        dry = dry_film * area * (1 - wet) * dry_gap
        # An explicit step must not overshoot, however little liquid is left.
        quickest = 0.3 * heat_capacity * min(surface_kg, bulk_kg) / dt
        mixing = min(quickest, self._mixing(section, surface_kg)) * (self.liquid_k - self.surface_k)

        # Below the air's pressure a pump draws less in proportion: it never cools the liquid without end.
        drawn = around.draw_kg_s * min(1.0, self.pressure_pa / 101325.0)
        boil = drawn * contents.latent_heat
        fill = around.fill_kg_s * heat_capacity * (around.fill_temp_k - self.liquid_k)
        self.wall_k += dt * (to_wall + along - inside) / (STEEL_HEAT_CAPACITY * spec.steel_kg * wet)
        self.dry_wall_k += dt * (to_dry - along - dry) / (STEEL_HEAT_CAPACITY * spec.steel_kg * (1 - wet))
        self.liquid_k += dt * (inside - rising - mixing + fill) / (heat_capacity * bulk_kg)
        self.surface_k += dt * (rising + mixing + dry - boil) / (heat_capacity * surface_kg)
        self.net_kg = max(0.05, self.net_kg + dt * (around.fill_kg_s - drawn - around.liquid_draw_kg_s))

    def _film(self, difference_k: float) -> float:
        if not self.contents.has_liquid:
            return 8.0
        return max(40.0, self.spec.inside_film * math.cbrt(abs(difference_k)))

    def _mixing(self, section_m2: float, surface_kg: float) -> float:
        """Return the conductance of bulk to surface [W/K]; a colder surface overturns."""
        if not self.contents.has_liquid:
            return STIRRED_VAPOUR
        thickness = surface_kg / (self.contents.liquid_density * section_m2)
        still = LIQUID_CONDUCTIVITY * section_m2 / max(0.002, 0.5 * thickness)
        colder = self.liquid_k - self.surface_k
        overturning = 20.0 * self.spec.inside_film * section_m2 * math.cbrt(max(0.0, colder))
        return 7.0 * still + overturning
