"""What the cylinder rules look things up in, out of the catalogue, the curves and the published tables."""

from functools import cache

from service.cylinders.properties import FILL_REFERENCE_K, Hazard, Knowledge, covers
from service.refrigerants.catalogue import Catalogue
from service.refrigerants.curves import SaturationCurves
from service.store.rulebook import load_adr_gases, load_filling_table

GLIDE_OF_PRESSURE = 0.01
"""A blend has glide whose dew pressure at 25 °C lies further than this under its bubble pressure [-]."""


class Remembered:
    """Saturation curves that remember each value they were asked for: the rules ask at few temperatures."""

    def __init__(self, curves: SaturationCurves) -> None:
        self.temp_range_k = cache(curves.temp_range_k)
        self.bubble_pressure_pa = cache(curves.bubble_pressure_pa)
        self.liquid_density_kg_m3 = cache(curves.liquid_density_kg_m3)
        self.vapour_density_kg_m3 = cache(curves.vapour_density_kg_m3)


def knowledge_of(catalogue: Catalogue, curves: SaturationCurves) -> Knowledge:
    """Curves, filling table and hazards for the rules; every value is looked up once."""

    @cache
    def hazards(designation: str) -> Hazard | None:
        return _hazard(catalogue, curves, designation)

    return Knowledge(Remembered(curves), load_filling_table(), hazards, load_adr_gases())


def _hazard(catalogue: Catalogue, curves: SaturationCurves, designation: str) -> Hazard | None:
    if designation not in catalogue:
        return None
    refrigerant = catalogue[designation]
    return Hazard(
        refrigerant.safety_class.value,
        refrigerant.hazard_division.value,
        refrigerant.is_blend and _has_glide(curves, designation),
        refrigerant.safety_class.mark,
        refrigerant.un_number.value,
    )


def _has_glide(curves: SaturationCurves, designation: str) -> bool:
    if not covers(curves, designation, FILL_REFERENCE_K):
        return False
    bubble = float(curves.bubble_pressure_pa(designation, FILL_REFERENCE_K))
    dew = float(curves.dew_pressure_pa(designation, FILL_REFERENCE_K))
    return (bubble - dew) / bubble > GLIDE_OF_PRESSURE
