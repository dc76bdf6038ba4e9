"""What the rules need of the refrigerants: curves, safety classes, pressures at the law's temperatures."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

from service.cylinders.adr_gases import AdrGas, AdrGases
from service.cylinders.densities import FillingTable
from service.cylinders.water_capacity import water_volume_m3
from service.units import STANDARD_ATMOSPHERE_PA, k_from_c, k_from_f

LAW_HOT_K: Final = k_from_c(55.0)
"""Temperature of the hot rules of the United States, 55 °C (49 CFR 173.301a(d), 173.304(b), read) [K]."""
LAW_WARM_K: Final = k_from_c(21.0)
"""Temperature at which the service pressure holds, 21 °C (49 CFR 173.301a(c), read) [K]."""
FILL_REFERENCE_K: Final = k_from_c(25.0)
"""Temperature at which the 80 % are stated, 25 °C (AHRI Guideline K as reported by a trade journal) [K]."""
GRAVITY_REFERENCE_K: Final = k_from_f(60.0)
"""Temperature of a specific gravity, 60 °F (49 CFR 173.304a(d)(1) table, 2015 edition, read) [K]."""
ISO_HOT_K: Final = k_from_c(65.0)
"""Temperature at which the test pressure must hold, 65 °C (ADR 4.1.4.1 P200 (5)(c), edition 2025, read) [K]."""
ISO_FULL_K: Final = k_from_c(60.0)
"""Up to here liquid may not fill the cylinder, 60 °C (ADR 4.1.4.1 P200 (5)(c), edition 2025, read) [K]."""
ISO_FILL_K: Final = k_from_c(50.0)
"""Temperature of the density that bounds the filling, 50 °C (ADR 4.1.4.1 P200 (5)(c), edition 2025, read) [K]."""
BEYOND_K: Final = 6.0
"""How far beyond the end of its curve a pressure is bounded (a choice) [K]."""
BEYOND_BOUND: Final = 1.003
"""Factor that makes the continued curve a bound: 0.3 % on top of at most 0.23 % of error (computed) [-]."""
WATER_60F_KG_M3: Final = 999.0
"""Density of water at 60 °F, to which specific gravity refers (from memory) [kg/m3]."""


class Saturation(Protocol):
    """Saturation curves by designation; temperatures [K], pressures absolute [Pa], densities [kg/m3]."""

    def temp_range_k(self, designation: str) -> tuple[float, float]:
        """Lowest and highest temperature of the curves [K]."""

    def bubble_pressure_pa(self, designation: str, temp_k: Any) -> Any:
        """Pressure of the boiling liquid [Pa]."""

    def liquid_density_kg_m3(self, designation: str, temp_k: Any) -> Any:
        """Density of the saturated liquid [kg/m3]."""

    def vapour_density_kg_m3(self, designation: str, temp_k: Any) -> Any:
        """Density of the saturated vapor [kg/m3]."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """What the catalogue says of one designation's dangers, with the mark of each figure."""

    safety_class: str | None
    hazard_division: str | None
    has_glide: bool
    class_mark: str = "memory"
    un_number: str | None = None

    @property
    def flammable(self) -> bool:
        """Class 2L, 2 or 3 of ASHRAE 34, or Division 2.1; an unknown class is taken for flammable."""
        if self.safety_class is None:
            return True
        return self.safety_class.lstrip("AB")[:1] in {"2", "3"} or (self.hazard_division or "").startswith(
            "2.1"
        )

    @property
    def toxic(self) -> bool:
        """Class B of ASHRAE 34, or Division 2.3; an unknown class is taken for toxic."""
        if self.safety_class is None:
            return True
        return self.safety_class.startswith("B") or (self.hazard_division or "").startswith("2.3")

    @property
    def oxidizing(self) -> bool:
        """Subsidiary Division 5.1."""
        return "5.1" in (self.hazard_division or "")


class Hazards(Protocol):
    """Dangers by designation; None for one that the catalogue does not have."""

    def __call__(self, designation: str) -> Hazard | None:
        """Look one up."""


@dataclass(frozen=True, slots=True)
class Knowledge:
    """All that the rules look things up in."""

    saturation: Saturation
    table: FillingTable
    hazards: Hazards
    adr_gases: AdrGases = field(default_factory=AdrGases)

    def adr_gas(self, designation: str) -> AdrGas | None:
        """The entry of ADR that carries a designation."""
        hazard = self.hazards(designation)
        return None if hazard is None else self.adr_gases.get(hazard.un_number)

    def is_flammable(self, designation: str) -> bool:
        """Whether it burns, or may for all that is known."""
        hazard = self.hazards(designation)
        return hazard is None or hazard.flammable

    def is_toxic(self, designation: str) -> bool:
        """Whether it is toxic, or may be for all that is known."""
        hazard = self.hazards(designation)
        return hazard is None or hazard.toxic

    def is_oxidizing(self, designation: str) -> bool:
        """Whether it feeds a fire."""
        hazard = self.hazards(designation)
        return hazard is not None and hazard.oxidizing

    def has_glide(self, designation: str) -> bool:
        """Whether it is a blend whose vapor has another composition than its liquid."""
        hazard = self.hazards(designation)
        return hazard is not None and hazard.has_glide


def covers(saturation: Saturation, designation: str, temp_k: float) -> bool:
    """Whether the curves of a designation reach a temperature."""
    low, high = saturation.temp_range_k(designation)
    return low <= temp_k <= high


def bubble_gauge_pa(saturation: Saturation, designation: str, temp_k: float) -> float | None:
    """Bubble pressure against the standard atmosphere [Pa]; None where the curves do not reach."""
    if not covers(saturation, designation, temp_k):
        return None
    return float(saturation.bubble_pressure_pa(designation, temp_k)) - STANDARD_ATMOSPHERE_PA


def boiling_temp_k(saturation: Saturation, designation: str, pressure_pa: float) -> float | None:
    """Temperature at which the liquid boils under an absolute pressure [K], to 5 mK; None beyond the curve."""
    low, high = saturation.temp_range_k(designation)
    first, last = (float(saturation.bubble_pressure_pa(designation, end)) for end in (low, high))
    if not first <= pressure_pa <= last:
        return None
    while high - low > 0.005:
        # Nearly straight in ln p against 1/T: each step leaves a small part of the gap.
        share = math.log(pressure_pa / first) / math.log(last / first)
        temp = 1.0 / (1.0 / low + share * (1.0 / high - 1.0 / low))
        found = float(saturation.bubble_pressure_pa(designation, temp))
        if abs(found / pressure_pa - 1.0) < 1e-4:
            return temp
        if found < pressure_pa:
            low, first = temp, found
        else:
            high, last = temp, found
    return low


def bubble_pressure_bound_pa(saturation: Saturation, designation: str, temp_k: float) -> float | None:
    """Upper bound of the absolute bubble pressure up to 6 K beyond the end of the curves [Pa].

    ln p is nearly straight in 1/T: continued from its last 5 K it lies within 0.23 % of the equation of state for
    every designation whose critical point lies above; 0.3 % on top bounds it. None further out.
    """
    high = saturation.temp_range_k(designation)[1]
    if covers(saturation, designation, temp_k):
        return float(saturation.bubble_pressure_pa(designation, temp_k))
    if not high < temp_k <= high + BEYOND_K:
        return None
    last = float(saturation.bubble_pressure_pa(designation, high))
    before = float(saturation.bubble_pressure_pa(designation, high - 5.0))
    slope = math.log(last / before) / (1.0 / (high - 5.0) - 1.0 / high)
    return BEYOND_BOUND * last * math.exp(slope * (1.0 / high - 1.0 / temp_k))


def liquid_fraction(
    saturation: Saturation, designation: str, *, net_mass_kg: float, water_capacity_kg: float, temp_k: float
) -> float:
    """Share of the volume that is liquid at a temperature [-]: 1 when liquid-full, 0 when all is vapor.

    The two phases are taken at saturation of the nominal composition, which is right to a few tenths of a
    percent of the volume above a tenth full.
    """
    overall = net_mass_kg / water_volume_m3(water_capacity_kg)
    liquid = float(saturation.liquid_density_kg_m3(designation, temp_k))
    vapour = float(saturation.vapour_density_kg_m3(designation, temp_k))
    return min(1.0, max(0.0, (overall - vapour) / (liquid - vapour)))


def liquid_full_temp_k(
    saturation: Saturation, designation: str, *, net_mass_kg: float, water_capacity_kg: float
) -> float | None:
    """Temperature at which the liquid just fills the cylinder [K]; None where that lies beyond the curves.

    Bisection on the saturated liquid's density, which falls steadily with temperature.
    """
    overall = net_mass_kg / water_volume_m3(water_capacity_kg)
    low, high = saturation.temp_range_k(designation)
    if overall <= float(saturation.liquid_density_kg_m3(designation, high)):
        return None
    if overall >= float(saturation.liquid_density_kg_m3(designation, low)):
        return low
    while high - low > 0.005:
        middle = 0.5 * (low + high)
        if float(saturation.liquid_density_kg_m3(designation, middle)) > overall:
            low = middle
        else:
            high = middle
    return low


def earliest_liquid_full_temp_k(
    saturation: Saturation, designations: Iterable[str], *, net_mass_kg: float, water_capacity_kg: float
) -> float | None:
    """Lowest liquid-full temperature over candidates [K]; None where the curves reach none."""
    found = (
        liquid_full_temp_k(saturation, name, net_mass_kg=net_mass_kg, water_capacity_kg=water_capacity_kg)
        for name in designations
    )
    return min((temp for temp in found if temp is not None), default=None)
