from dataclasses import replace

import pytest

from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.composition import Composition
from service.refrigerants.deviations import mixed_composition
from service.refrigerants.equation_of_state import EquationOfState
from service.refrigerants.roots import is_trustworthy
from service.refrigerants.two_phase import TwoPhase
from service.store.artefacts import load_catalogue

CATALOGUE = load_catalogue()
BULK = composition_of(CATALOGUE["R-407C"])
EQUATION = EquationOfState(BULK)
MODEL = EQUATION._phase
TRUE = EQUATION.bubble(298.15)


def test_a_true_root_is_believed() -> None:
    assert is_trustworthy(TRUE, BULK, MODEL)
    assert is_trustworthy(EQUATION.dew(298.15), BULK, MODEL)
    assert is_trustworthy(EQUATION.at_quality(298.15, 0.3), BULK, MODEL)


@pytest.mark.parametrize(
    "false",
    [
        replace(TRUE, pressure_pa=TRUE.pressure_pa * 1.0001),
        replace(TRUE, temp_k=TRUE.temp_k + 0.01),
        replace(TRUE, vapour=TRUE.liquid),
        replace(TRUE, liquid=TRUE.vapour),
        replace(TRUE, liquid_density_mol_m3=TRUE.vapour_density_mol_m3),
        replace(TRUE, quality=0.5),
        replace(TRUE, pressure_pa=TRUE.pressure_pa * 40),
    ],
    ids=["pressure", "temperature", "vapour", "liquid", "one phase", "bulk", "far from Raoult"],
)
def test_a_false_one_is_not(false: TwoPhase) -> None:
    assert not is_trustworthy(false, BULK, MODEL)


def test_another_bulk_is_noticed() -> None:
    other = Composition(BULK.components, tuple(reversed(BULK.mole_fractions)))
    assert not is_trustworthy(TRUE, other, MODEL)


def test_a_root_in_a_loop_of_the_equation_is_noticed() -> None:
    """Ethane with half a percent of R-427A: in balance and stable, yet 13 % below the true bubble point."""
    bulk = mixed_composition(CATALOGUE["R-170"], CATALOGUE["R-427A"], 0.005)
    equation = EquationOfState(bulk)
    inner = TwoPhase(
        temp_k=287.4586,
        pressure_pa=2904351.333982812,
        quality=0.0,
        liquid_density_mol_m3=6756.044639622955,
        vapour_density_mol_m3=1798.1539219547903,
        liquid=bulk.mole_fractions,
        vapour=(
            0.9979559068098398,
            0.0006894981053071921,
            0.000505422883981975,
            0.00025662343931710715,
            0.000592548761553864,
        ),
        method="plain",
    )
    assert not is_trustworthy(inner, bulk, equation._phase)
    assert equation.bubble(287.4586).pressure_pa == pytest.approx(3.3233e6, rel=1e-4)
