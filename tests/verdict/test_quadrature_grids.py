import numpy as np
import pytest

from service.verdict import quadrature_grids

ALL = (
    quadrature_grids.fill_grid,
    quadrature_grids.air_fill_grid,
    quadrature_grids.air_grid,
    quadrature_grids.share_grid,
    quadrature_grids.loss_grid,
    quadrature_grids.vapour_grid,
    quadrature_grids.overpressure_grid,
)


@pytest.mark.parametrize("make", ALL)
def test_masses_sum_to_one_and_nodes_lie_in_their_cells(make):
    grid = make()
    assert grid.mass.sum() == pytest.approx(1.0, abs=1e-9)
    assert (grid.mass > 0).all()
    assert (np.diff(grid.edges) > 0).all()
    assert ((grid.nodes > grid.edges[:-1]) & (grid.nodes < grid.edges[1:])).all()


def test_air_has_the_stated_mean():
    grid = quadrature_grids.air_grid()
    assert grid.nodes @ grid.mass == pytest.approx(quadrature_grids.MEAN_AIR_PA, rel=0.02)


def test_shares_are_log_uniform():
    grid = quadrature_grids.share_grid()
    assert grid.mass[grid.nodes < 0.05].sum() == pytest.approx(0.5, abs=0.03)
