"""Read the field-prevalence tables of the verdict."""

from functools import lru_cache
from importlib.resources import files

from service.verdict.priors import Prevalence

DATA = files("service.verdict") / "data"


@lru_cache
def load_prevalence(region: str = "north-america") -> Prevalence:
    """Read one region's table; ValueError names an unknown region and what there is."""
    return Prevalence.from_json((DATA / "prevalence.json").read_text(encoding="utf-8"), region)
