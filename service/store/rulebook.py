"""Read the published tables that the cylinder rules look things up in."""

from functools import lru_cache
from importlib.resources import files

from service.cylinders.densities import FillingTable

DATA = files("service.cylinders") / "data"


@lru_cache
def load_filling_table() -> FillingTable:
    """Read the filling densities."""
    return FillingTable.from_csv((DATA / "filling_density.csv").read_text(encoding="utf-8"))
