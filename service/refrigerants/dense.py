"""Gases whose saturation curve ends within the range of readings: pressure by density and temperature, in one phase.

Carbon dioxide above 31 °C has neither liquid nor bubble pressure: in a closed cylinder its pressure goes by how much is
in it. So have R-23, ethane and the other gases of low critical temperature.
"""

import numpy as np

from service.refrigerants.catalogue import Catalogue
from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.curves import CurveTables, Floats
from service.refrigerants.equation_of_state import EquationOfState
from service.refrigerants.surfaces import TEMP_HIGH_K, TEMP_LOW_K, DenseFluids

ENDS_BELOW_K = 316.0
"""Curves that end below have 17 K and more left above them, in which cylinders are read [K]."""
_TEMPS_K = np.linspace(TEMP_LOW_K, TEMP_HIGH_K, 41)
_RATIOS = np.concatenate([np.geomspace(1e-4, 0.04, 25), np.linspace(0.05, 1.15, 56)])
_HOME_K = 298.15


def tabulate(catalogue: Catalogue, tables: CurveTables) -> DenseFluids:
    """Compute the table of every designation whose curve ends below `ENDS_BELOW_K`."""
    tops = {
        name: float(top)
        for name, top in zip(tables.designations, tables.temp_max_k, strict=True)
        if name in catalogue and top < ENDS_BELOW_K
    }
    if not tops:
        return DenseFluids((), _TEMPS_K, np.empty((0, 0)), np.empty((0, 0, _TEMPS_K.size), dtype=np.float32))
    found = [_row(EquationOfState(composition_of(catalogue[name])), top) for name, top in tops.items()]
    return DenseFluids(
        designations=tuple(tops),
        temp_k=_TEMPS_K,
        density_kg_m3=np.stack([density for density, _ in found]),
        log_ratio=np.stack([ratio for _, ratio in found]).astype(np.float32),
    )


def _row(equation: EquationOfState, top_k: float) -> tuple[Floats, Floats]:
    """Densities [d] in kg/m3, and ln of pressure over density [d, t]; NaN where one phase cannot be."""
    densest = equation.bubble(min(_HOME_K, top_k - 2.0)).liquid_density_mol_m3
    density = densest * _RATIOS
    pressure = np.array(
        [[equation.single_phase_pressure_pa(float(t), float(d)) for t in _TEMPS_K] for d in density]
    )
    mass = density * equation.molar_mass_kg_mol
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.log(np.where(pressure > 0.0, pressure, np.nan) / mass[:, None])
    return mass, ratio
