"""Compute the tables that requests read; the heavy half of the command ``heelmark tabulate``.

Pure computation: takes the facts, gives arrays and their provenance. The command in
``service.store.tabulation`` reads and writes the files and shows the progress.
"""

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any

import numpy as np

from service.refrigerants import dense, look_alikes
from service.refrigerants.catalogue import Catalogue, Refrigerant
from service.refrigerants.catalogue_builder import composition_of, remedies_of
from service.refrigerants.curves import CurveTables
from service.refrigerants.deviations import (
    CONTAMINANTS,
    FILL_NODES,
    LOSS_NODES,
    SHARE_NODES,
    TEMP_NODES_K,
    MixtureRow,
    fill_row,
    look_alike,
    loss_row,
    mixture_row,
    mixture_uncertainty_row,
)
from service.refrigerants.look_alikes import LookAlikes
from service.refrigerants.pair_remedies import REPLACED, Remedy
from service.refrigerants.saturation_fit import SaturationFit, fit_saturation
from service.refrigerants.surfaces import Surfaces
from service.refrigerants.uncertainty import Uncertainties

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
        log_bubble_pressure=np.stack([fit.series["bubble_pressure"] for fit in fits]),
        log_dew_pressure=np.stack([fit.series["dew_pressure"] for fit in fits]),
        log_liquid_density=np.stack([fit.series["liquid_density"] for fit in fits]),
        log_vapour_density=np.stack([fit.series["vapour_density"] for fit in fits]),
    )
    return SaturationArtefact(tables, dict(zip(designations, map(_provenance, fits), strict=True)))


def _provenance(fit: SaturationFit) -> dict[str, Any]:
    return {
        "temperature_k": [round(fit.temp_min_k, 2), round(fit.temp_max_k, 2)],
        "largest_relative_residual": {name: float(f"{value:.1e}") for name, value in fit.residuals.items()},
        "holes_k": {branch: temps for branch, temps in fit.holes.items() if temps},
        "solved_by": fit.methods,
    }


_AIR_SOLUBILITY = {"R-22": (0.60, 0.12), "R-134a": (0.55, 0.10), "R-410A": (0.65, 0.13)}
"""Air in the liquid over air in the vapor at 25 °C, by mole per volume, and one sigma (estimated, see
`AIR_SOLUBILITY_SOURCE`) [-]."""
_AIR_SOLUBILITY_ELSEWHERE = (0.60, 0.15)
"""The same for every other designation: the middle of those, wider (estimated) [-]."""


@dataclass(frozen=True, slots=True)
class SurfacesArtefact:
    """Surfaces and, by designation, how many states could not be solved."""

    surfaces: Surfaces
    failures: dict[str, int]


def tabulate_surfaces(
    catalogue: Catalogue, curves: CurveTables, stated: Uncertainties, mapped: Callable[[str], Map]
) -> SurfacesArtefact:
    """Compute the fill, loss and mixture surfaces, and the gases above their critical temperature.

    Parameters
    ----------
    catalogue : Catalogue
        All designations.
    curves : CurveTables
        Say which saturation curves end early.
    stated : Uncertainties
        How far the modelled pairs can be trusted.
    mapped : Callable
        Gives for a label a ``map`` that keeps the order.

    Returns
    -------
    SurfacesArtefact
        Surfaces and the count of failed flashes by designation.
    """
    items = list(catalogue.values())
    contaminants = {name: catalogue[name] for name in CONTAMINANTS}
    fill = list(mapped("Liquid fraction")(fill_row, items))
    loss = list(mapped("Vapor loss")(loss_row, items))
    mixed = partial(mixture_row, contaminants=contaminants, stated=stated)
    rows: list[MixtureRow] = list(mapped("Mixtures")(mixed, items))
    air = np.array([_AIR_SOLUBILITY.get(item.designation, _AIR_SOLUBILITY_ELSEWHERE) for item in items])
    surfaces = Surfaces(
        designations=catalogue.designations,
        temp_nodes_k=TEMP_NODES_K,
        fill_nodes=FILL_NODES,
        fill=np.stack(fill).astype(np.float32),
        loss_nodes=LOSS_NODES,
        loss=np.stack(loss).astype(np.float32),
        contaminants=CONTAMINANTS,
        share_nodes=SHARE_NODES,
        mixture=np.stack([row.mixture for row in rows]).astype(np.float32),
        mixture_uncertainty=np.stack([row.uncertainty for row in rows]).astype(np.float32),
        air_solubility=air[:, 0],
        air_solubility_uncertainty=air[:, 1],
        dense=dense.tabulate(catalogue, curves),
    )
    failures = {item.designation: row.failed for item, row in zip(items, rows, strict=True) if row.failed}
    return SurfacesArtefact(surfaces, failures)


def mixture_uncertainties(
    catalogue: Catalogue, stated: Uncertainties
) -> np.ndarray[Any, np.dtype[np.float32]]:
    """``Surfaces.mixture_uncertainty`` alone, where no composition has changed; ndarray[n, s]."""
    contaminants = {name: catalogue[name] for name in CONTAMINANTS}
    rows = [mixture_uncertainty_row(item, contaminants, stated) for item in catalogue.values()]
    return np.stack(rows).astype(np.float32)


def tabulate_look_alikes(catalogue: Catalogue, stated: Uncertainties, mapped: Map = map) -> LookAlikes:
    """Compute the table of what may stand in for a label's refrigerant."""
    solved = partial(look_alike, stated=stated)
    return look_alikes.tabulate(catalogue, TEMP_NODES_K, lambda recipes: mapped(solved, recipes))


def stand_in_pairs(catalogue: Catalogue) -> dict[str, dict[str, Any]]:
    """List the binary pairs inside catalogued blends for which a stand-in is used, with the evidence."""
    remedies: dict[frozenset[str], Remedy] = dict(REPLACED)
    for item in catalogue.values():
        found = remedies_of(composition_of(item))
        remedies |= {pair: remedy for pair, remedy in found.items() if remedy is not None}
    return {"+".join(sorted(pair)): asdict(remedy) for pair, remedy in remedies.items()}
