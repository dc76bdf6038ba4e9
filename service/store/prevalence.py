"""Read the field-prevalence tables of the verdict: a region's that ships with the package, or an owner's own."""

import json
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from service.verdict.priors import Prevalence

DATA = files("service.verdict") / "data"


@lru_cache
def load_prevalence(region: str = "north-america") -> Prevalence:
    """
    Read one table.

    Parameters
    ----------
    region
        A region's name, or the path of a file of the same form (its name ends in ``.json``) with one region.

    Returns
    -------
    Prevalence
        Checked.

    Raises
    ------
    ValueError
        For an unknown region, or a file that is no such table.
    """
    if not region.endswith(".json"):
        return Prevalence.from_json((DATA / "prevalence.json").read_text(encoding="utf-8"), region)
    text = Path(region).read_text(encoding="utf-8")
    regions = list(json.loads(text).get("regions", {}))
    if len(regions) != 1:
        raise ValueError(f"{region}: got {len(regions)} regions, expected a table with one")
    return Prevalence.from_json(text, regions[0])
