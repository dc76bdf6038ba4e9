"""Carbon dioxide on a warm day: called by its name, and no more said of it than a pressure without liquid can say."""

import numpy as np
import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair

USUAL = (0.3, 5e3, 0.3, 3e3)
FILLED_KG_M3 = 680.0
DENSE = load_surfaces().dense


@pytest.fixture(scope="module")
def shipped():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def read(temp_k, density=FILLED_KG_M3):
    at = DENSE.log_pressure(DENSE.designations.index("R-744"), np.array(density))
    return Pair(temp_k, float(np.exp(np.interp(temp_k, DENSE.temp_k, at))), *USUAL)


@pytest.mark.parametrize("temp_k", [306.15, 311.15, 318.15, 323.15])
def test_above_31_degrees_it_is_called_by_its_name(shipped, temp_k):
    verdict = shipped.verdict([read(temp_k)], CylinderFacts(claimed_designation="R-744"))
    assert verdict.identity.finding == "identified"
    assert verdict.identity.candidates[0].designation == "R-744"
    assert verdict.claim.finding == "supported"
    assert verdict.contamination.finding == "undecided"
    assert verdict.contents_state.finding == "undecided"
    assert verdict.contamination.detection_limits == ()
    assert verdict.next_measurement.code == "cool"
    assert any("has no liquid, and its pressure goes by how full" in line for line in verdict.reasons)


def test_without_a_label_it_comes_first_and_the_other_gases_are_not_hidden(shipped):
    verdict = shipped.verdict([read(308.15)])
    assert verdict.identity.candidates[0].designation == "R-744"
    groups = {group.hazard: group.examples for group in verdict.reads_the_same.groups}
    burning = {name for one in groups["highly-flammable"] for name in one.mass_fractions}
    assert burning & {"R-170", "R-1150"}


def test_what_is_known_of_contamination_is_what_was_expected_before(shipped):
    found = shipped.infer([read(311.15)], CylinderFacts(claimed_designation="R-744"))
    index = shipped.space.designations.index("R-744")
    before = found.priors.state("air")[index] / found.priors.state("none")[index]
    assert found.is_dense()
    assert found.by_state["air"][index] / found.by_state["none"][index] == pytest.approx(before, rel=1e-3)


def test_a_cold_reading_with_a_warm_one_is_of_the_same_charge(shipped):
    cold = Pair(293.15, float(load_curves().bubble_pressure_pa("R-744", 293.15)), *USUAL)
    candidate = shipped.verdict([cold, read(311.15)]).identity.candidates[0]
    assert candidate.designation == "R-744"
    assert candidate.probability > 0.8


def test_no_other_refrigerant_is_taken_for_one(shipped):
    pair = Pair(311.15, float(load_curves().bubble_pressure_pa("R-410A", 311.15)), *USUAL)
    assert float(shipped.infer([pair]).dense.sum()) < 0.01
