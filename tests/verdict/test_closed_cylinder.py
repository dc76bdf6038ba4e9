import numpy as np
import pytest

from service.verdict import chebyshev
from service.verdict.closed_cylinder import ChargeBook, interpolate

FILLS = np.array([0.01, 0.05, 0.3, 0.8])
HOME = int(np.abs(chebyshev.SAMPLE_TEMP_K - 298.15).argmin())


@pytest.fixture(scope="module")
def charges(curves, surfaces):
    return ChargeBook(curves, surfaces).charges(FILLS)


def test_a_pure_fluid_stands_at_its_curve_until_it_is_dry(charges, curves):
    index = curves.index("R-134a")
    departure = charges.departure[index]
    assert np.nanmax(np.abs(departure)) == 0.0
    dry = charges.dry_k[index][:, None] <= chebyshev.SAMPLE_TEMP_K
    assert (np.isnan(departure) == dry).all()
    assert dry[0].any()
    assert not dry[3].any()


def test_it_boils_dry_where_the_vapour_holds_all_of_it(charges, curves):
    index = curves.index("R-134a")
    density = curves.vapour_density_kg_m3("R-134a", np.array([charges.dry_k[index, 0]]))[0]
    assert density == pytest.approx(charges.density_kg_m3[index, 0], rel=5e-4)


def test_at_25_c_a_blend_stands_where_the_table_says(charges, curves, surfaces):
    index = curves.index("R-407C")
    tabulated = surfaces.fill[index, list(surfaces.fill_nodes).index(0.05), 0]
    assert charges.departure[index, 1, HOME] == pytest.approx(tabulated, rel=0.01)


def test_the_last_drop_stands_between_the_emptiest_row_and_the_dew_curve(charges, curves, surfaces):
    index = curves.index("R-407C")
    dew = curves.log_dew_pressure(np.array([298.15]))[index, 0]
    bubble = curves.log_bubble_pressure(np.array([298.15]))[index, 0]
    assert dew - bubble < charges.departure[index, 0, HOME] < surfaces.fill[index, 0, 0]


def test_a_colder_cylinder_has_more_liquid_and_stands_nearer_its_bubble_curve(charges, curves):
    departure = charges.departure[curves.index("R-407C"), 0]
    wet = departure[np.isfinite(departure)]
    assert (np.diff(wet) < 0).all()


def test_a_charge_is_wet_only_if_it_is_at_the_hottest_reading(charges, curves):
    index = curves.index("R-407C")
    dry = charges.dry_k[index, 0]
    assert charges.wet(np.array([280.0, dry - 0.1]))[index, 0]
    assert not charges.wet(np.array([280.0, dry + 0.1]))[index, 0]


def test_a_heel_of_vapour_condenses_when_cold(curves, surfaces):
    heels = ChargeBook(curves, surfaces).heels(np.array([0.5, 1.2]))
    index = curves.index("R-134a")
    assert heels.dry_k[index, 0] < 298.15 < heels.dry_k[index, 1]
    density = curves.vapour_density_kg_m3("R-134a", np.array([heels.dry_k[index, 0]]))[0]
    assert density == pytest.approx(heels.density_kg_m3[index, 0], rel=5e-4)


def test_lines_between_nodes_and_level_beyond():
    nodes, values = np.array([[0.0, 1.0, 3.0]]), np.array([[1.0, 2.0, 0.0]])
    wanted = np.array([[-1.0, 0.5, 1.0, 2.0, 9.0]])
    assert np.allclose(interpolate(nodes, values, wanted), [[1.0, 1.5, 2.0, 1.0, 0.0]])
