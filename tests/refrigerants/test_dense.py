"""Gases above their critical temperature: the committed table against the equation of state, asked in one phase."""

import numpy as np
import pytest

from service.refrigerants import dense
from service.refrigerants.catalogue import Catalogue
from service.store.artefacts import load_catalogue, load_curves, load_surfaces

TABLE = load_surfaces().dense


def test_the_committed_rows_are_those_of_the_equation_of_state() -> None:
    one = Catalogue({"R-744": load_catalogue()["R-744"]})
    made = dense.tabulate(one, load_curves().tables)
    row = TABLE.designations.index("R-744")
    assert made.log_ratio[0] == pytest.approx(TABLE.log_ratio[row], abs=1e-5, nan_ok=True)


def test_every_gas_whose_curve_ends_early_has_a_row() -> None:
    curves = load_curves()
    early = [n for n in curves.designations if curves.temp_range_k(n)[1] < dense.ENDS_BELOW_K]
    assert list(TABLE.designations) == early
    assert {"R-744", "R-23", "R-170"} <= set(early)


# Span and Wagner's equation as CoolProp 8.0.0 has it, flashed at temperature and density (computed): kg/m3, K, Pa.
@pytest.mark.parametrize(
    ("density", "temp_k", "pressure_pa"),
    [
        (100.0, 308.15, 4.4520e6),
        (250.0, 308.15, 7.3161e6),
        (467.6, 313.15, 8.9340e6),
        (680.0, 323.15, 14.2606e6),
    ],
)
def test_carbon_dioxide_by_density(density: float, temp_k: float, pressure_pa: float) -> None:
    at = TABLE.log_pressure(TABLE.designations.index("R-744"), np.array(density))
    found = float(np.exp(np.interp(temp_k, TABLE.temp_k, at)))
    assert found == pytest.approx(pressure_pa, rel=0.005)
