"""Read the published tables that the cylinder rules look things up in."""

from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

from service.cylinders.adr_gases import AdrGases
from service.cylinders.densities import FillingTable
from service.cylinders.practical_limits import PracticalLimit, practical_limits

DATA = files("service.cylinders") / "data"


@lru_cache
def load_filling_table() -> FillingTable:
    """Read the filling densities."""
    table, supercritical = (
        (DATA / name).read_text(encoding="utf-8")
        for name in ("filling_density.csv", "supercritical_density.csv")
    )
    return FillingTable.from_csv(table, supercritical)


@lru_cache
def load_adr_gases() -> AdrGases:
    """Read the gases of ADR."""
    return AdrGases.from_csv((DATA / "adr_gases.csv").read_text(encoding="utf-8"))


@lru_cache
def load_practical_limits() -> Mapping[str, PracticalLimit]:
    """Read the practical limits of EN 378 by designation."""
    return practical_limits((DATA / "practical_limits.csv").read_text(encoding="utf-8"))
