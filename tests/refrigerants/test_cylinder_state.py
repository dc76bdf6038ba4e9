import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.refrigerants.catalogue_builder import composition_of
from service.refrigerants.cylinder_state import after_vapour_loss, at_liquid_fraction, closed_cylinder
from service.refrigerants.equation_of_state import EquationOfState, molar_mass_kg_mol
from service.store.artefacts import load_catalogue

CATALOGUE = load_catalogue()
ROOM_K = 298.15


def equation(designation: str) -> EquationOfState:
    return EquationOfState(composition_of(CATALOGUE[designation]))


@pytest.mark.parametrize(
    ("designation", "percent_by_fill"),
    [
        # Percent of bubble pressure at 25 C; the project's own flashes (computed, not published).
        ("R-407C", {0.05: -6.4, 0.1: -4.0, 0.2: -2.1, 0.3: -1.3, 0.5: -0.6, 0.7: -0.3, 0.8: -0.15}),
        ("R-448A", {0.05: -6.2, 0.1: -3.9, 0.2: -2.0, 0.3: -1.3, 0.5: -0.6, 0.7: -0.25, 0.8: -0.15}),
        ("R-404A", {0.05: -0.5, 0.1: -0.3, 0.2: -0.2, 0.5: 0.0}),
        ("R-410A", {0.05: -0.2, 0.1: -0.1, 0.5: 0.0}),
    ],
)
def test_a_nearly_empty_cylinder_of_a_zeotrope_shows_less_than_bubble_pressure(
    designation: str, percent_by_fill: dict[float, float]
) -> None:
    solver = equation(designation)
    bubble = solver.bubble(ROOM_K).pressure_pa
    for fill, percent in percent_by_fill.items():
        state = at_liquid_fraction(solver, ROOM_K, fill)
        assert state.liquid_volume_fraction == pytest.approx(fill, abs=1e-6)
        assert 100 * (state.pressure_pa / bubble - 1) == pytest.approx(percent, abs=0.06)


@given(st.floats(60.0, 1000.0))
@settings(max_examples=25, deadline=None)
def test_the_density_asked_for_is_the_density_found(density_kg_m3: float) -> None:
    solver = equation("R-407C")
    cylinder = closed_cylinder(solver, ROOM_K, density_kg_m3)
    assert cylinder.contents == "two-phase"
    assert cylinder.equilibrium is not None
    found = solver.molar_mass_kg_mol / cylinder.equilibrium.molar_volume_m3
    assert found == pytest.approx(density_kg_m3, rel=1e-6)


def test_a_liquid_full_cylinder_is_dangerous_and_said_to_be() -> None:
    solver = equation("R-22")
    saturated = solver.bubble(ROOM_K)
    full = saturated.liquid_density_mol_m3 * solver.molar_mass_kg_mol
    cylinder = closed_cylinder(solver, ROOM_K + 1.0, full)
    assert cylinder.contents == "liquid-full"
    assert cylinder.equilibrium is None
    assert cylinder.pressure_pa - saturated.pressure_pa > 3e5


def test_without_liquid_pressure_is_below_saturation() -> None:
    solver = equation("R-410A")
    cylinder = closed_cylinder(solver, ROOM_K, 20.0)
    assert cylinder.contents == "vapour-only"
    ideal = 20.0 / solver.molar_mass_kg_mol * 8.314462618 * ROOM_K
    assert 0.8 * ideal < cylinder.pressure_pa < ideal


@pytest.mark.parametrize(
    ("designation", "kpa_by_loss"),
    [
        # Pressure in a cylinder that was 80 % full at 25 C, equilibrium vapor removed in
        # quarter-percent steps; the project's own computation (computed, not published).
        ("R-407C", {0.10: 1169.7, 0.25: 1136.5, 0.50: 1061.4}),
        ("R-448A", {0.10: 1270.3, 0.25: 1238.0, 0.50: 1160.4}),
        ("R-404A", {0.10: 1253.4, 0.25: 1251.4, 0.50: 1246.6}),
        ("R-410A", {0.10: 1656.8, 0.25: 1655.9, 0.50: 1653.7}),
    ],
)
def test_losing_vapour_lowers_the_pressure_of_what_is_left(
    designation: str, kpa_by_loss: dict[float, float]
) -> None:
    solver = equation(designation)
    full = at_liquid_fraction(solver, ROOM_K, 0.8)
    density = solver.molar_mass_kg_mol / full.molar_volume_m3
    left = after_vapour_loss(solver, ROOM_K, 0.8, list(kpa_by_loss))
    for (lost, kpa), fractions in zip(kpa_by_loss.items(), left, strict=True):
        solver.set_mole_fractions(fractions)
        cylinder = closed_cylinder(solver, ROOM_K, density * (1 - lost))
        assert cylinder.pressure_pa / 1e3 == pytest.approx(kpa, abs=0.5)


def test_the_lighter_component_leaves_first() -> None:
    solver = equation("R-407C")
    full = at_liquid_fraction(solver, ROOM_K, 0.8)
    density = solver.molar_mass_kg_mol / full.molar_volume_m3
    solver.set_mole_fractions(after_vapour_loss(solver, ROOM_K, 0.8, [0.5])[0])
    liquid = closed_cylinder(solver, ROOM_K, density / 2).equilibrium
    assert liquid is not None
    names = solver.composition.components
    masses = [x * molar_mass_kg_mol(name) for name, x in zip(names, liquid.liquid, strict=True)]
    # R-32/125/134a by mass at half loss; the project's own computation (computed, not published).
    assert [100 * m / sum(masses) for m in masses] == pytest.approx([16.1, 19.8, 64.1], abs=0.1)
