"""What a composition by mass says that a cylinder held."""

import pytest

from service.store.artefacts import load_catalogue
from service.verdict.truth.established import Established, from_composition

CATALOGUE = load_catalogue()


@pytest.mark.parametrize(
    ("parts", "designation", "state"),
    [
        ({"R-410A": 1.0}, "R-410A", "none"),
        ({"R-32": 0.495, "R-125": 0.505}, "R-410A", "none"),
        ({"R-22": 0.996, "R-134a": 0.004}, "R-22", "none"),
        ({"R-22": 0.97, "R-410A": 0.03}, "R-22", "mixed"),
        ({"R-407C": 0.9, "R-22": 0.1}, "R-407C", "mixed"),
        ({"R-32": 0.20, "R-125": 0.22, "R-134a": 0.58}, "R-407C", "shifted"),
        ({"R-600a": 0.4, "R-22": 0.3, "R-12": 0.3}, None, None),
    ],
)
def test_a_composition_is_told_apart(
    parts: dict[str, float], designation: str | None, state: str | None
) -> None:
    assert from_composition(CATALOGUE, parts, 0.003) == Established(designation, state)


def test_a_laboratory_that_names_it_is_believed() -> None:
    found = from_composition(CATALOGUE, {"R-22": 0.4, "R-12": 0.6}, 0.003, named="R-22")
    assert found == Established("R-22", "mixed")


def test_air_counts_where_there_is_no_other_refrigerant() -> None:
    clean, dirty = {"R-22": 1.0}, {"R-22": 0.9, "R-134a": 0.1}
    assert from_composition(CATALOGUE, clean, 0.003, air=0.014).state == "none"
    assert from_composition(CATALOGUE, clean, 0.003, air=0.02).state == "air"
    assert from_composition(CATALOGUE, dirty, 0.003, air=0.02).state == "mixed"


def test_a_coarse_composition_calls_nothing_shifted() -> None:
    parts = {"R-32": 0.20, "R-125": 0.25, "R-134a": 0.55}
    assert from_composition(CATALOGUE, parts, 0.003).state == "shifted"
    assert from_composition(CATALOGUE, parts, 0.02).state == "none"
