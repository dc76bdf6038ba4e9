"""Oil in the liquid lowers the pressure by up to 3 %: the same refrigerant, neither mixed nor without its air."""

import pytest

from service.verdict import air
from service.verdict.model import CylinderFacts
from service.verdict.quadrature_grids import MEAN_OIL

LABEL = CylinderFacts(claimed_designation="R-22")


def test_a_pressure_a_little_low_is_oil_and_no_mixture(engine, at, curves):
    found = engine.infer([at("R-22", factor=0.98)], LABEL)
    index = curves.index("R-22")
    assert found.oil[index] > 0.6 * found.by_state["none"][index]
    assert found.by_state["none"][index] > 3 * found.by_state["mixed"][index]
    verdict = engine.verdict([at("R-22", factor=0.98)], LABEL)
    assert verdict.contamination.finding != "mixed"
    assert verdict.claim.finding != "contradicted"
    assert any("Dissolved oil may be what lowers the pressure" in line for line in verdict.reasons)


def test_even_five_percent_low_is_not_called_mixed(engine, at):
    verdict = engine.verdict([at("R-22", factor=0.95)], LABEL)
    assert verdict.contamination.finding == "undecided"


def test_oil_explains_no_pressure_that_is_high_and_none_that_is_far_low(engine, at, curves):
    index = curves.index("R-22")
    for factor in (1.05, 0.85):
        found = engine.infer([at("R-22", factor=factor)], LABEL)
        assert found.oil[index] < 0.05


def test_on_the_curve_it_is_not_told(engine, at):
    verdict = engine.verdict([at("R-22")], LABEL)
    assert not any("oil" in line for line in verdict.reasons)


def test_a_makers_container_has_none(engine, at):
    sealed = CylinderFacts(claimed_designation="R-22", provenance="maker")
    assert engine.infer([at("R-22", factor=0.98)], sealed).oil.sum() == 0.0


def test_air_over_oil_is_still_found_and_stands_higher(engine, at, curves):
    """The pressure above the curve is the least air there can be: oil underneath hides some of it."""
    index = curves.index("R-22")
    pair = at("R-22", factor=1.08, temp_bias_k=0.1)
    found = engine.infer([pair], LABEL)
    assert found.by_state["air"][index] > 0.5
    block = engine.space.blocks["oily-air"]
    oily = found.table(block)[index].sum(axis=(1, 2))
    plain = found.table(engine.space.blocks["air"])[index].sum(axis=1)
    mean = float(oily @ engine.space.oily_air.nodes / oily.sum())
    hidden_pa = 0.5 * MEAN_OIL * pair.pressure_pa
    assert mean > float(plain @ engine.space.air.nodes / plain.sum()) + hidden_pa
    estimate = air.estimate(found, engine.space, index, LABEL)
    assert estimate.partial_pressure_high_pa > 0.08 * pair.pressure_pa


@pytest.mark.parametrize("name", ["none", "air"])
def test_its_share_is_taken_from_what_is_clean_and_airy(engine, name):
    priors = engine.book.priors(LABEL, "field")
    oily = {"none": "oily", "air": "oily-air"}[name]
    assert priors.rows(name) + priors.rows(oily) == pytest.approx(priors.state(name))
    assert priors.rows(oily) == pytest.approx(0.25 * priors.state(name))
