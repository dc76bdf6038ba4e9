"""A cylinder that holds no refrigerant: open to the air, or under a holding charge of nitrogen."""

import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair

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
