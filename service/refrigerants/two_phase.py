"""A two-phase equilibrium, as the equation of state answers it."""

from dataclasses import dataclass
from typing import Any

import numpy as np


class NoConvergence(ArithmeticError):
    """No method of the chain found a trustworthy two-phase state."""


@dataclass(frozen=True, slots=True)
class TwoPhase:
    """A two-phase equilibrium.

    Densities in [mol/m^3], compositions as mole fractions, quality as moles of vapor per mole.
    ``method`` says which step of the chain found it.
    """

    temp_k: float
    pressure_pa: float
    quality: float
    liquid_density_mol_m3: float
    vapour_density_mol_m3: float
    liquid: tuple[float, ...]
    vapour: tuple[float, ...]
    method: str

    @property
    def molar_volume_m3(self) -> float:
        """Volume of both phases together, [m^3/mol]."""
        return (1 - self.quality) / self.liquid_density_mol_m3 + self.quality / self.vapour_density_mol_m3

    @property
    def liquid_volume_fraction(self) -> float:
        """Share of the volume that is liquid, [-]."""
        return (1 - self.quality) / self.liquid_density_mol_m3 / self.molar_volume_m3


def envelope_points(data: Any) -> list[TwoPhase]:
    """Read a phase envelope as CoolProp traced it; beyond the critical point its phases change names."""
    points = []
    x_by_point, y_by_point = np.transpose(data.x), np.transpose(data.y)
    for i, quality in enumerate(data.Q):
        phases = [(data.rhomolar_liq[i], tuple(x_by_point[i])), (data.rhomolar_vap[i], tuple(y_by_point[i]))]
        (liquid, x), (vapour, y) = sorted(phases, key=lambda phase: -phase[0])
        points.append(TwoPhase(data.T[i], data.p[i], float(round(quality)), liquid, vapour, x, y, "envelope"))
    return points
