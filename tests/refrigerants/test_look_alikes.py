import numpy as np
import pytest

from service.refrigerants.deviations import TEMP_NODES_K, look_alike
from service.refrigerants.look_alikes import RETROFITS, components_of, recipes
from service.store.artefacts import load_catalogue, load_curves, load_look_alikes, load_uncertainties

CATALOGUE, TABLE = load_catalogue(), load_look_alikes()


def test_recipes_are_whole_and_solved_nearly_all():
    wanted = recipes(CATALOGUE)
    assert all(sum(recipe.values()) == pytest.approx(1.0) for recipe in wanted)
    assert len(TABLE.parts) > 0.98 * len(wanted)
    assert TABLE.shares.sum(axis=1) == pytest.approx(np.ones(len(TABLE.parts)), abs=1e-5)
    assert set(RETROFITS) <= {name for parts in TABLE.parts for name in parts}


@pytest.mark.parametrize("row", [0, 700, 1500, 2200, 2600, 2900])
def test_a_rebuilt_curve_is_the_committed_one(row):
    recipe = dict(zip(TABLE.parts[row], TABLE.shares[row].round(4).tolist(), strict=False))
    solved = look_alike(components_of(recipe, CATALOGUE), load_uncertainties())
    assert TABLE.log_pressure[row] == pytest.approx(solved.log_pressure, abs=2e-5)
    assert float(TABLE.uncertainty[row]) == pytest.approx(solved.uncertainty, abs=1e-4)


def test_a_mixture_lies_between_its_parts_unless_it_bends():
    """R-22 + R-142b is nearly ideal: its curve goes from one end to the other."""
    rows = [i for i, parts in enumerate(TABLE.parts) if parts == ("R-22", "R-142b")]
    at = TABLE.at(np.array([298.15]))[rows, 0]
    ends = [float(np.log(load_curves().bubble_pressure_pa(name, 298.15))) for name in ("R-142b", "R-22")]
    assert ends[0] < at.min() and at.max() < ends[1]
    assert (np.diff(at) > 0).all()
    assert TABLE.temp_nodes_k == pytest.approx(TEMP_NODES_K)
