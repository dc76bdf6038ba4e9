import dataclasses

import pytest

from service.verdict.merge_replicates import condense
from service.verdict.model import Pair

PAIR = Pair(298.15, 1e6, 0.1, 2e3, 0.3, 3e3, 0.005, 0.0, "t", "g")


def test_copies_become_one_with_less_noise_and_the_same_bias():
    (one,) = condense([PAIR] * 10)
    assert one.temp_noise_k == pytest.approx(0.1 / 10**0.5)
    assert one.pressure_noise_pa == pytest.approx(2e3 / 10**0.5)
    assert (one.temp_bias_k, one.pressure_bias_pa, one.gain_bias) == pytest.approx((0.3, 3e3, 0.005))


def test_states_apart_stay_apart():
    warm = dataclasses.replace(PAIR, temp_k=303.15)
    assert len(condense([PAIR, warm, PAIR])) == 2


def test_other_devices_stay_apart():
    assert len(condense([PAIR, dataclasses.replace(PAIR, pressure_device="g2")])) == 2


def test_scatter_beyond_noise_is_believed():
    away = dataclasses.replace(PAIR, pressure_pa=1.1e6)
    (one,) = condense([PAIR, away])
    assert one.pressure_noise_pa > 10 * 2e3 / 2**0.5


def test_order_does_not_matter():
    pairs = [dataclasses.replace(PAIR, temp_k=290 + i, pressure_pa=9e5 + 1e4 * i) for i in range(12)]
    assert condense(pairs) == condense(pairs[::-1])
    assert len(condense(pairs)) <= 8
