"""Readings that technicians know, against the verdict. Source: common practice, no published source.

136 psig is 76.7 °F on R-22; 211.5 psig is 105.1 °F on R-22, 72.9 °F on R-410A, and within a psi of R-454B at
76 °F. A search chart by chart that stops at R-410A never sees the last one.
"""

import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.units import STANDARD_ATMOSPHERE_PA, k_from_f, pa_from_psi
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair


@pytest.fixture(scope="module")
def engine():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def reading(temp_f, gauge_psi, thermometer_f, gauge=0.5):
    return Pair(
        temp_k=k_from_f(temp_f),
        pressure_pa=pa_from_psi(gauge_psi) + STANDARD_ATMOSPHERE_PA,
        temp_noise_k=0.05,
        pressure_noise_pa=pa_from_psi(0.1),
        temp_bias_k=thermometer_f / 1.8,
        pressure_bias_pa=pa_from_psi(gauge),
    )


def probability(found, engine, designation, state=None):
    index = engine.space.designations.index(designation)
    return float(found.by_state[state][index] if state else found.identity[index])


@pytest.mark.parametrize("claim", [None, "R-22"])
def test_136_psig_at_76_f_may_be_r22(engine, claim):
    found = engine.infer([reading(76, 136, 0.5)], CylinderFacts(claimed_designation=claim))
    assert probability(found, engine, "R-22", "none") > 0.8


@pytest.mark.parametrize("claim", [None, "R-22", "R-410A"])
def test_211_psig_at_76_f_is_not_r22(engine, claim):
    found = engine.infer([reading(76, 211.5, 0.5)], CylinderFacts(claimed_designation=claim))
    assert probability(found, engine, "R-22", "none") < 0.001


def test_a_good_thermometer_leans_away_from_clean_r410a_and_says_so(engine):
    verdict = engine.verdict([reading(76, 211.5, 0.5)], CylinderFacts(claimed_designation="R-410A"))
    found = engine.infer([reading(76, 211.5, 0.5)], CylinderFacts(claimed_designation="R-410A"))
    oil = float(found.oil[engine.space.designations.index("R-410A")])
    assert probability(found, engine, "R-410A", "none") - oil < 0.01
    assert oil < 0.5
    contaminated = probability(found, engine, "R-410A") - probability(found, engine, "R-410A", "none")
    assert contaminated + probability(found, engine, "R-454B") + oil > 0.9
    assert contaminated + probability(found, engine, "R-454B") > oil
    assert verdict.contamination.finding != "none-detected"
    assert verdict.disposition.code != "keep"
    text = " ".join(verdict.reasons)
    assert "The label says R-410A: clean R-410A has probability 0.0" in text
    assert "R-410A with something else in it 0.7" in text
    assert "R-454B" in text


def test_without_a_label_it_names_r454b_first(engine):
    verdict = engine.verdict([reading(76, 211.5, 0.5)])
    assert verdict.identity.candidates[0].designation == "R-454B"
    assert "R-410A" in {c.designation for c in verdict.identity.candidates}


@pytest.mark.parametrize("claim", [None, "R-410A"])
def test_a_poor_thermometer_must_not_lean_away(engine, claim):
    found = engine.infer([reading(76, 211.5, 3.0)], CylinderFacts(claimed_designation=claim))
    clean = probability(found, engine, "R-410A", "none")
    assert clean > 0.5
    assert clean > 3 * (probability(found, engine, "R-454B") + probability(found, engine, "R-410A", "mixed"))
