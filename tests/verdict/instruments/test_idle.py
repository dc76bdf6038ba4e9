"""When a device that nobody uses says something of itself."""

import numpy as np
import pytest

from service.verdict.instruments import idle

NIGHT_S = 9 * 3600.0


@pytest.mark.parametrize(
    ("seconds", "low_pa", "high_pa", "warmed_k", "said"),
    [
        (NIGHT_S, 1800.0, 2000.0, 4.0, True),
        (3600.0, 1800.0, 2000.0, 4.0, False),
        (NIGHT_S, 1800.0, 2600.0, 4.0, False),
        (NIGHT_S, 1800.0, 2000.0, 0.5, False),
        (NIGHT_S, 1800.0, 2000.0, None, False),
        (NIGHT_S, 60e3, 60.1e3, 4.0, False),
    ],
)
def test_a_gauge_is_open_where_it_stands_still_near_zero_while_the_air_warms(
    seconds: float, low_pa: float, high_pa: float, warmed_k: float | None, said: bool
) -> None:
    assert idle.is_open_air(seconds, low_pa, high_pa, warmed_k) is said


def test_gas_left_in_a_hose_follows_the_air_and_is_not_taken_for_zero() -> None:
    # Ideal gas at one volume: 103 kPa at 293 K, cooling by 3 K overnight.
    at_k = np.linspace(293.0, 290.0, 50)
    gauge_pa = 103e3 * at_k / 293.0 - 101_325.0
    assert not idle.is_open_air(NIGHT_S, float(gauge_pa.min()), float(gauge_pa.max()), 3.0)


def test_thermometers_are_compared_with_the_median_of_all() -> None:
    assert idle.beside([20.0, 20.1, 21.3]) == pytest.approx([-0.1, 0.0, 1.2])
    assert idle.saw_one_air(NIGHT_S, 1.0, 1.3, 3)
    assert not idle.saw_one_air(NIGHT_S, 1.0, 1.3, 2)
    assert not idle.saw_one_air(NIGHT_S, 0.2, 1.3, 5)


def test_the_median_varies_as_much_as_is_said() -> None:
    rng, count, class_k = np.random.default_rng(2), 5, 0.3
    own = rng.normal(0, class_k, (4000, count))
    air = rng.normal(0, idle.AIR_K, 4000)
    spread = float(np.std(air - np.median(own, axis=1)))
    assert idle.beside_uncertainty_k(class_k, count) == pytest.approx(spread, rel=0.1)
