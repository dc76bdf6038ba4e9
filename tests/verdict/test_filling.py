import pytest

from service.verdict.errors import InvalidEvidence
from service.verdict.filling import overall_density
from service.verdict.model import CylinderFacts


def test_mass_and_capacity_select_the_fraction(engine, curves):
    index = curves.index("R-22")
    density = 0.45 * 1190.7 + 0.55 * 44.2
    weights = engine.fill.weights(CylinderFacts(water_volume_m3=0.02, net_mass_kg=0.02 * density))
    assert engine.space.fill.nodes[weights.alone[index].argmax()] == pytest.approx(0.45)


def test_a_weighed_heel_of_liquid_selects_a_low_fraction(engine, curves):
    index = curves.index("R-407C")
    density = engine.space.charges.density_kg_m3[index, 2]
    weights = engine.fill.weights(CylinderFacts(water_volume_m3=0.02, net_mass_kg=0.02 * density))
    likelihood = weights.alone[index] - engine.space.fill.log_mass
    assert abs(int(likelihood.argmax()) - 2) <= 1
    assert weights.two_phase[index] > weights.vapour[index].max()


def test_without_mass_the_prior_stays(engine):
    weights = engine.fill.weights(CylinderFacts(water_volume_m3=0.02))
    assert weights.alone[0] == pytest.approx(engine.space.fill.log_mass)
    assert not weights.two_phase.any()


def test_an_overfilled_cylinder_speaks_for_liquid_full(engine, curves):
    index = curves.index("R-22")
    weights = engine.fill.weights(CylinderFacts(water_volume_m3=0.02, net_mass_kg=0.02 * 1190.0))
    assert weights.full[index] > weights.two_phase[index] + 3


def test_a_heel_speaks_for_vapour_only(engine, curves):
    index = curves.index("R-22")
    weights = engine.fill.weights(CylinderFacts(water_volume_m3=0.02, net_mass_kg=0.02 * 15))
    assert weights.vapour[index].max() > weights.two_phase[index] + 3


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        (CylinderFacts(water_volume_m3=0.0, net_mass_kg=1), "water_volume_m3"),
        (CylinderFacts(water_volume_m3=0.02, net_mass_kg=-1), "net_mass_kg"),
        (CylinderFacts(water_volume_m3=float("nan"), net_mass_kg=1), "water_volume_m3"),
    ],
)
def test_impossible_facts_are_named(facts, field):
    with pytest.raises(InvalidEvidence) as caught:
        overall_density(facts)
    assert caught.value.field == field
