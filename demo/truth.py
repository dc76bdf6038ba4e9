"""From the hidden truth to a curve of pressure against temperature, by flashes of the equation of state.

Never from the service's own tables: those are what the demo puts to the test.
"""

from functools import cache

import numpy as np

from demo.physics import Saturated, VapourOnly, with_air
from demo.physics.contents import Contents
from demo.scenario import DemoCylinder, Truth
from service.refrigerants.catalogue import Catalogue
from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.composition import Composition
from service.refrigerants.cylinder_state import after_vapour_loss, closed_cylinder
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.store.artefacts import load_catalogue

WATER_DENSITY_KG_M3 = 997.0
NODES_K = np.arange(258.15, 329.0, 5.0)
REFERENCE_K = 298.15
FULL_LIQUID_FRACTION = 0.8


def volume_m3(cylinder: DemoCylinder) -> float:
    """Water volume of the shell, [m3]."""
    return cylinder.water_capacity_kg / WATER_DENSITY_KG_M3


def contents_of(cylinder: DemoCylinder) -> Contents:
    """Make the simulator's contents of a cylinder's truth.

    Raises
    ------
    NoConvergence
        When the equation of state has no answer at enough temperatures.
    """
    truth = cylinder.truth
    equation = EquationOfState(_composition(truth, load_catalogue()))
    density = truth.net_mass_kg / volume_m3(cylinder)
    if truth.state == "vapour-only":
        return VapourOnly(closed_cylinder(equation, REFERENCE_K, density).pressure_pa)
    temps, logs = _curve(equation, density)
    if len(temps) < 6:
        raise NoConvergence(
            f"{cylinder.serial}: the equation of state answers at {len(temps)} temperatures only"
        )
    series = np.polynomial.Polynomial.fit(1.0 / temps, logs, 4)

    @cache
    def at_millikelvin(temp_mk: int) -> float:
        return float(series(1000.0 / temp_mk))

    def log_pressure(temp_k: float) -> float:
        return at_millikelvin(round(temp_k * 1000.0))

    liquid = equation.bubble(REFERENCE_K).liquid_density_mol_m3 * equation.molar_mass_kg_mol
    air_pa = 1000.0 * (truth.air_kpa or 0.0)
    return Saturated(with_air(log_pressure, air_pa), liquid_density=liquid)


def _composition(truth: Truth, catalogue: Catalogue) -> Composition:
    refrigerant = catalogue[truth.designation]
    if truth.mixed_with and truth.mixed_fraction:
        return mixed_composition(refrigerant, catalogue[truth.mixed_with], truth.mixed_fraction)
    nominal = composition_of(refrigerant)
    if truth.vapour_lost_fraction:
        left = after_vapour_loss(
            EquationOfState(nominal), REFERENCE_K, FULL_LIQUID_FRACTION, [truth.vapour_lost_fraction]
        )
        return Composition(nominal.components, left[0])
    return nominal


def _curve(equation: EquationOfState, density_kg_m3: float) -> tuple[np.ndarray, np.ndarray]:
    temps, logs = [], []
    for temp_k in NODES_K:
        try:
            state = closed_cylinder(equation, float(temp_k), density_kg_m3)
        except NoConvergence:
            continue
        if state.contents == "two-phase":
            temps.append(float(temp_k))
            logs.append(float(np.log(state.pressure_pa)))
    return np.array(temps), np.array(logs)
