"""Clean blends of the catalogue under the right label can be called clean, and their readings call them so in one word.

The pressures are the project's own bubble curves (computed); the instrument is a good clamp and gauge (common practice,
no source).
"""

import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair

GOOD = (0.1, 2e3, 0.3, 3e3, 0.0025)
TEMPS_K = (283.15, 298.15, 310.15)


@pytest.fixture(scope="module")
def engine():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


@pytest.mark.parametrize("designation", ["R-410A", "R-404A", "R-507A", "R-454B"])
def test_a_clean_blend_can_be_called_clean(engine, designation):
    curves = load_curves()
    pairs = [Pair(t, float(curves.bubble_pressure_pa(designation, t)), *GOOD) for t in TEMPS_K]
    verdict = engine.verdict(pairs, CylinderFacts(claimed_designation=designation))
    assert verdict.contamination.finding == "none-detected"
    assert verdict.disposition.code == "keep"
    assert "Nothing else was detected" in verdict.disposition.text


@pytest.mark.parametrize("designation", ["R-410A", "R-404A"])
def test_one_reading_is_enough_for_a_blend_without_glide(engine, designation):
    pair = Pair(298.15, float(load_curves().bubble_pressure_pa(designation, 298.15)), *GOOD)
    verdict = engine.verdict([pair], CylinderFacts(claimed_designation=designation))
    assert verdict.contamination.finding == "none-detected"
