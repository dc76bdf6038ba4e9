"""Equipment with a charge, and a recovery machine that empties it: liquid first, then vapor down to a vacuum."""

from __future__ import annotations

from dataclasses import dataclass, field

from demo.physics.contents import Contents

GAS_CONSTANT = 8.314
"""[J/(mol K)]."""


@dataclass(slots=True)
class Equipment:
    """A closed system that holds liquid and vapor of one refrigerant at the air's temperature.

    Parameters
    ----------
    contents : Contents
        Its saturation curve.
    volume_m3 : float
        Inside, [m3].
    molar_mass_kg : float
        Of the refrigerant, [kg/mol].
    charge_kg : float
        What is in it, [kg].
    temp_k : float
        Temperature, [K].
    """

    contents: Contents
    volume_m3: float
    molar_mass_kg: float
    charge_kg: float
    temp_k: float

    @property
    def full_vapour_kg(self) -> float:
        """Mass of saturated vapor that fills it, as an ideal gas, [kg]."""
        pressure = self.contents.pressure_pa(self.temp_k)
        return pressure * self.volume_m3 * self.molar_mass_kg / (GAS_CONSTANT * self.temp_k)

    @property
    def has_liquid(self) -> bool:
        """Whether there is liquid left."""
        return self.charge_kg > self.full_vapour_kg

    @property
    def pressure_pa(self) -> float:
        """Absolute pressure, [Pa]."""
        share = min(1.0, self.charge_kg / self.full_vapour_kg)
        return share * self.contents.pressure_pa(self.temp_k)


@dataclass(slots=True)
class Machine:
    """A recovery machine.

    Parameters
    ----------
    liquid_kg_s, vapour_kg_s : float
        What it moves of liquid, and of vapor at the saturation pressure, [kg/s].
    cut_out_pa : float
        Absolute pressure at which it stops, [Pa].
    """

    liquid_kg_s: float = 0.008
    vapour_kg_s: float = 0.008
    cut_out_pa: float = 60e3
    running: bool = field(default=False)

    def step(self, dt_s: float, equipment: Equipment) -> float:
        """Move refrigerant out of the equipment for `dt_s` [s]; gives how much, [kg]."""
        if not self.running or equipment.pressure_pa <= self.cut_out_pa:
            return 0.0
        saturated = equipment.contents.pressure_pa(equipment.temp_k)
        vapour = self.vapour_kg_s * equipment.pressure_pa / saturated
        moved = dt_s * (self.liquid_kg_s if equipment.has_liquid else vapour)
        equipment.charge_kg -= moved
        return moved
