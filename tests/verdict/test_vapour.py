import numpy as np
import pytest

from service.verdict import chebyshev
from service.verdict.vapour import Isochores

HOME = int(np.abs(chebyshev.SAMPLE_TEMP_K - 298.15).argmin())


@pytest.fixture(scope="module")
def isochores(curves):
    return Isochores(curves)


def test_the_saturated_vapour_stands_at_its_dew_pressure(isochores, curves):
    ratio = np.ones((len(curves.designations), 1))
    dew = curves.log_dew_pressure(np.array([298.15]))[:, 0]
    assert np.allclose(isochores.log_pressure(ratio)[:, 0, HOME], dew, atol=1e-9)


def test_a_thin_vapour_is_an_ideal_gas(isochores, curves):
    thin = isochores.log_pressure(np.full((len(curves.designations), 1), 1e-4))[:, 0]
    ideal = thin[:, :1] + np.log(chebyshev.SAMPLE_TEMP_K / chebyshev.SAMPLE_TEMP_K[0])
    assert np.allclose(thin, ideal, atol=1e-3)


def test_density_of_a_share_stands_at_that_share_of_the_dew_pressure(isochores, curves):
    share = np.array([0.01, 0.3, 0.7, 0.95])
    stated = isochores.log_pressure(isochores.density_ratio(share))[:, :, HOME]
    dew = curves.log_dew_pressure(np.array([298.15]))
    assert np.allclose(stated, dew + np.log(share), atol=1e-6)
