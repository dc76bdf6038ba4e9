import numpy as np
import pytest

from service.verdict import grids

ALL = (
    grids.fill_grid,
    grids.air_fill_grid,
    grids.air_grid,
    grids.share_grid,
    grids.loss_grid,
    grids.vapour_grid,
    grids.overpressure_grid,
)


@pytest.mark.parametrize("make", ALL)
def test_masses_sum_to_one_and_nodes_lie_in_their_cells(make):
    grid = make()
    assert grid.mass.sum() == pytest.approx(1.0, abs=1e-9)
    assert (grid.mass > 0).all()
    assert (np.diff(grid.edges) > 0).all()
    assert ((grid.nodes > grid.edges[:-1]) & (grid.nodes < grid.edges[1:])).all()


def test_air_has_the_stated_mean():
    grid = grids.air_grid()
    assert grid.nodes @ grid.mass == pytest.approx(grids.MEAN_AIR_PA, rel=0.02)


def test_shares_are_log_uniform():
    grid = grids.share_grid()
    assert grid.mass[grid.nodes < 0.05].sum() == pytest.approx(0.5, abs=0.03)
