"""Nearly empty cylinders: the closed charges of the tables against flashes of the equation of state (computed).

The tables hold deviations at constant liquid fractions down to 2 %; a closed cylinder's fraction changes with
temperature and goes to nothing. 0.4 % of pressure is 0.15 K of such a blend.
"""

import math

import numpy as np
import pytest

from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.cylinder_state import at_liquid_fraction, closed_cylinder
from service.refrigerants.equation_of_state import EquationOfState
from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict import chebyshev
from service.verdict.engine import VerdictEngine
from service.verdict.model import CylinderFacts, Pair
from service.verdict.single_phase import VAPOUR_MISFIT
from service.verdict.vapour import Isochores

VOLUME_M3 = 0.0216
TEMPS_K = (273.15, 288.15, 298.15, 313.15)


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


@pytest.fixture(scope="module")
def engine(catalogue):
    return VerdictEngine(load_curves(), load_surfaces(), catalogue, load_prevalence())


@pytest.mark.parametrize("name", ["R-407C", "R-448A", "R-454C", "R-410A", "R-134a"])
def test_closed_charges_follow_the_equation_of_state(engine, catalogue, name):
    space, equation = engine.space, EquationOfState(composition_of(catalogue[name]))
    index = space.designations.index(name)
    for node, fill in enumerate(space.fill.nodes[:9:2]):
        home = at_liquid_fraction(equation, 298.15, float(fill))
        density = equation.molar_mass_kg_mol / home.molar_volume_m3
        assert space.charges.density_kg_m3[index, 2 * node] == pytest.approx(density, rel=0.025)
        for temp in TEMPS_K:
            found = closed_cylinder(equation, temp, density)
            if found.contents == "vapour-only":
                assert space.charges.dry_k[index, 2 * node] < temp + 1.0
                continue
            stated = space.log_pressure(np.array([temp]), [space.row("none", index, 2 * node)])[0, 0]
            assert stated == pytest.approx(math.log(found.pressure_pa), abs=0.004)


@pytest.mark.parametrize("name", ["R-407C", "R-448A", "R-454C"])
@pytest.mark.parametrize("mass_kg", [0.8, 1.0, 1.2, 1.5, 2.0])
@pytest.mark.parametrize("temp_k", [288.15, 298.15, 311.15])
def test_the_reading_of_a_weighed_heel_speaks_for_what_it_is(engine, catalogue, name, mass_kg, temp_k):
    equation = EquationOfState(composition_of(catalogue[name]))
    truth = closed_cylinder(equation, temp_k, mass_kg / VOLUME_M3)
    pair = Pair(temp_k, truth.pressure_pa, 0.05, 300.0, 0.3, 1e3, 0.005)
    facts = CylinderFacts(water_volume_m3=VOLUME_M3, net_mass_kg=mass_kg)
    index = engine.space.designations.index(name)
    known = engine.book.priors(facts, "field").designation[index]
    assert engine.infer([pair], facts).identity[index] > known


@pytest.mark.parametrize("name", ["R-407C", "R-448A", "R-454C"])
@pytest.mark.parametrize("mass_kg", [1.2, 1.5, 2.0])
def test_a_labelled_heel_with_liquid_is_not_called_something_else(engine, catalogue, name, mass_kg):
    equation = EquationOfState(composition_of(catalogue[name]))
    truth = closed_cylinder(equation, 298.15, mass_kg / VOLUME_M3)
    pair = Pair(298.15, truth.pressure_pa, 0.05, 300.0, 0.3, 1e3, 0.005)
    facts = CylinderFacts(water_volume_m3=VOLUME_M3, net_mass_kg=mass_kg, claimed_designation=name)
    verdict = engine.verdict([pair], facts)
    assert verdict.identity.candidates[0].designation == name
    assert verdict.identity.candidates[0].probability > 0.9


@pytest.mark.parametrize("name", ["R-407C", "R-134a", "R-454C", "R-410A", "R-22", "R-32", "R-290"])
@pytest.mark.parametrize("ratio", [0.2, 0.5, 0.8, 1.05, 1.2])
def test_vapour_alone_follows_the_equation_of_state(engine, catalogue, name, ratio):
    equation = EquationOfState(composition_of(catalogue[name]))
    index = engine.space.designations.index(name)
    many = np.full((len(engine.space.designations), 1), ratio)
    samples = Isochores(load_curves()).log_pressure(many)[index, 0]
    off = []
    for temp_k in (303.15, 313.15, 323.15):
        truth = closed_cylinder(equation, temp_k, float(engine.fill.vapour[index]) * ratio)
        if truth.contents == "vapour-only":
            off.append(np.interp(temp_k, chebyshev.SAMPLE_TEMP_K, samples) - math.log(truth.pressure_pa))
    assert len(off) >= 2
    assert np.abs(off).max() < 0.03
    assert np.ptp(off) < 2 * VAPOUR_MISFIT
