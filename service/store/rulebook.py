"""Read the published tables that the cylinder rules look things up in."""

from functools import lru_cache
from importlib.resources import files

from service.cylinders.densities import FillingTable

DATA = files("service.cylinders") / "data"


@lru_cache
def load_filling_table() -> FillingTable:
    """Read the filling densities."""
    table, supercritical = (
        (DATA / name).read_text(encoding="utf-8")
        for name in ("filling_density.csv", "supercritical_density.csv")
    )
    return FillingTable.from_csv(table, supercritical)
