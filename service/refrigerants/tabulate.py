"""Compute the tables that requests read; the heavy half of the command ``heelmark tabulate``.

Pure computation: takes the facts, gives arrays and their provenance. The command in
``service.store.tabulation`` reads and writes the files and shows the progress.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from service.refrigerants.catalogue import Catalogue, Refrigerant
from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.curves import CurveTables
from service.refrigerants.saturation_fit import SaturationFit, fit_saturation

Map = Callable[..., Iterator[Any]]


@dataclass(frozen=True, slots=True)
class SaturationArtefact:
    """Curve tables and, by designation, what is known of their quality."""

    tables: CurveTables
    provenance: dict[str, dict[str, Any]]


def fit_refrigerant(refrigerant: Refrigerant) -> SaturationFit:
    """Fit one designation's curves."""
    return fit_saturation(composition_of(refrigerant))


def tabulate_saturation(catalogue: Catalogue, mapped: Map = map) -> SaturationArtefact:
    """Fit every designation's curves.

    Parameters
    ----------
    catalogue : Catalogue
        What to fit.
    mapped : Callable
        ``map`` or one that works in processes or shows progress; keeps the order.

    Returns
    -------
    SaturationArtefact
        Tables and provenance.
    """
    fits = list(mapped(fit_refrigerant, list(catalogue.values())))
    designations = catalogue.designations
    tables = CurveTables(
        designations=designations,
        temp_min_k=np.array([fit.temp_min_k for fit in fits]),
        temp_max_k=np.array([fit.temp_max_k for fit in fits]),
        critical_k=np.array([fit.critical_k for fit in fits]),
        relative_uncertainty=np.array([item.relative_uncertainty for item in catalogue.values()]),
        log_bubble_pressure=np.stack([fit.log_bubble_pressure for fit in fits]),
        log_dew_pressure=np.stack([fit.log_dew_pressure for fit in fits]),
        log_liquid_density=np.stack([fit.log_liquid_density for fit in fits]),
        log_vapour_density=np.stack([fit.log_vapour_density for fit in fits]),
    )
    return SaturationArtefact(tables, dict(zip(designations, map(_provenance, fits), strict=True)))


def _provenance(fit: SaturationFit) -> dict[str, Any]:
    return {
        "temperature_k": [round(fit.temp_min_k, 2), round(fit.temp_max_k, 2)],
        "largest_relative_residual": {name: float(f"{value:.1e}") for name, value in fit.residuals.items()},
        "holes_k": {branch: temps for branch, temps in fit.holes.items() if temps},
        "solved_by": fit.methods,
    }
