"""A cylinder that holds no refrigerant: open to the air, or under a holding charge of nitrogen."""

import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair
from service.verdict.observations import LiquidLevel, Observations

USUAL = (0.3, 5e3, 0.3, 3e3)


@pytest.fixture(scope="module")
def shipped():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def gas(pressure_pa, *temps_k):
    return [Pair(temp, pressure_pa * temp / temps_k[0], *USUAL) for temp in temps_k]


@pytest.mark.parametrize("pressure_pa", [101e3, 84e3])
def test_an_open_cylinder_is_never_called_a_refrigerant(shipped, pressure_pa):
    verdict = shipped.verdict(gas(pressure_pa, 297.15))
    assert verdict.identity.finding != "identified"
    assert verdict.disposition.code != "keep"
    assert any("Air or nitrogen alone would read so too" in line for line in verdict.reasons)


def test_two_temperatures_tell_a_gas_from_a_boiling_liquid(shipped):
    one, two = shipped.infer(gas(101e3, 297.15)), shipped.infer(gas(101e3, 283.15, 311.15))
    low = shipped.space.designations.index("R-11")
    assert two.by_state["none"][low] < 0.01 < one.by_state["none"][low]
    assert two.no_refrigerant > one.no_refrigerant


def test_a_label_of_a_low_pressure_refrigerant_still_counts(shipped):
    pair = Pair(297.15, float(load_curves().bubble_pressure_pa("R-123", 297.15)), *USUAL)
    found = shipped.infer([pair], CylinderFacts(claimed_designation="R-123"))
    assert found.no_refrigerant < 0.05


@pytest.mark.parametrize("designation", ["R-22", "R-134a", "R-410A", "R-32"])
def test_it_is_nothing_to_a_cylinder_that_reads_like_one(shipped, designation):
    pair = Pair(297.15, float(load_curves().bubble_pressure_pa(designation, 297.15)), *USUAL)
    found = shipped.infer([pair])
    assert found.no_refrigerant < 0.01
    assert found.no_refrigerant <= found.something_else


def at_zero(temp_k=297.15, **stated):
    """A gauge that stands at nought in air of 101.325 kPa."""
    return Pair(temp_k, 101325.0, *USUAL, atmosphere_bias_pa=1e3, atmosphere_pa=101325.0, **stated)


@pytest.mark.parametrize("label", [None, "R-410A", "R-22"])
def test_a_gauge_at_nought_is_no_refrigerant_sooner_than_any(shipped, label):
    """R-11 boils at 23.7 °C in air, and is rarer than an open cylinder."""
    facts = CylinderFacts(claimed_designation=label)
    found, verdict = shipped.infer([at_zero()], facts), shipped.verdict([at_zero()], facts)
    assert found.no_refrigerant > float(found.identity.max())
    assert verdict.identity.finding == "unrecognised"
    assert verdict.contents_state.finding == "undecided"
    assert "no refrigerant in it" in verdict.disposition.text
    assert "evacuate it" in verdict.disposition.text
    assert verdict.next_measurement.code == "weigh"


def test_what_else_it_may_be_is_named_beside(shipped):
    assert "R-11" in shipped.verdict([at_zero()]).disposition.text


def test_a_label_that_agrees_stands_and_the_open_cylinder_is_told(shipped):
    verdict = shipped.verdict([at_zero()], CylinderFacts(claimed_designation="R-11"))
    assert verdict.identity.candidates[0].designation == "R-11"
    assert any("an open cylinder, or a closed valve, reads so too" in line for line in verdict.reasons)


def test_an_open_cylinder_stays_at_the_atmosphere_as_it_warms(shipped):
    found = shipped.infer([at_zero(283.15), at_zero(311.15)])
    assert found.no_refrigerant > 0.9


def test_weight_decides(shipped):
    """8 kg in 21.6 l are no air; 20 g are, and so is nothing at all on the scale."""
    heavy = CylinderFacts(water_volume_m3=0.0216, net_mass_kg=8.0)
    light, empty = (CylinderFacts(water_volume_m3=0.0216, net_mass_kg=net) for net in (0.02, 0.0))
    assert shipped.infer([at_zero()], heavy).no_refrigerant < 1e-6
    assert shipped.infer([at_zero()], light).no_refrigerant > 0.9
    assert shipped.infer([at_zero()], empty).no_refrigerant > 0.9
    verdict = shipped.verdict([at_zero()], light)
    assert verdict.next_measurement.code == "none"
    assert "evacuate it" in verdict.next_measurement.action


def test_a_liquid_that_was_seen_is_no_air(shipped):
    seen = CylinderFacts(observations=Observations(liquid=LiquidLevel(0.5, 0.05)))
    assert shipped.infer([at_zero()], seen).no_refrigerant < 0.2


def test_a_gauge_well_above_the_air_says_nothing_of_an_open_cylinder(shipped):
    pair = Pair(297.15, 665e3, *USUAL, atmosphere_bias_pa=1e3, atmosphere_pa=101325.0)
    assert not any("open cylinder" in line for line in shipped.verdict([pair]).reasons)
