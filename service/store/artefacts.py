"""Read the tables of the refrigerants; the only place that touches their files.

The files are built by ``heelmark tabulate`` and shipped with the package. Nothing here imports the
equation of state.
"""

import json
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

from service.refrigerants.catalogue import Catalogue
from service.refrigerants.curves import CurveTables, SaturationCurves
from service.refrigerants.look_alikes import LookAlikes
from service.refrigerants.surfaces import DenseFluids, Surfaces
from service.refrigerants.uncertainty import Uncertainties

DATA = files("service.refrigerants") / "data"
CURVE_ARRAYS = tuple(name for name in CurveTables.__annotations__ if name != "designations")


@lru_cache
def load_catalogue() -> Catalogue:
    """Read the catalogue of designations."""
    return Catalogue.from_json((DATA / "catalogue.json").read_text(encoding="utf-8"))


@lru_cache
def load_uncertainties() -> Uncertainties:
    """Read how far the modelled pressures can be trusted."""
    return Uncertainties.from_csv((DATA / "uncertainty.csv").read_text(encoding="utf-8"))


@lru_cache
def load_curves() -> SaturationCurves:
    """Read the saturation curves."""
    arrays = _arrays("saturation.npz")
    return SaturationCurves(
        CurveTables(
            designations=tuple(arrays["designations"].tolist()),
            **{name: arrays[name] for name in CURVE_ARRAYS},
        )
    )


@lru_cache
def load_surfaces() -> Surfaces:
    """Read the fill, loss and mixture surfaces."""
    arrays = _arrays("surfaces.npz")
    designations, contaminants = (
        tuple(arrays.pop(name).tolist()) for name in ("designations", "contaminants")
    )
    dense = {
        name.removeprefix("dense_"): arrays.pop(name) for name in list(arrays) if name.startswith("dense_")
    }
    low = DenseFluids(tuple(dense.pop("designations").tolist()), **dense)
    return Surfaces(designations=designations, contaminants=contaminants, dense=low, **arrays)


@lru_cache
def load_look_alikes() -> LookAlikes:
    """Read what may stand in for a label's refrigerant; parts are joined by plus signs."""
    arrays = _arrays("look_alikes.npz")
    parts = tuple(tuple(name.split("+")) for name in arrays.pop("parts").tolist())
    return LookAlikes(parts=parts, **arrays)


@lru_cache
def load_provenance() -> dict[str, Any]:
    """Read how the tables were made: versions, ranges, residuals, holes, stand-in pairs."""
    provenance: dict[str, Any] = json.loads((DATA / "provenance.json").read_text(encoding="utf-8"))
    return provenance


def _arrays(name: str) -> dict[str, np.ndarray[Any, np.dtype[Any]]]:
    with (DATA / name).open("rb") as stream, np.load(stream) as archive:
        return dict(archive)
