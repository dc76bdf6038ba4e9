"""The rules that decide and the plain ones say the same; ``tests.benchmarks.rules_compared`` asks a million times."""

import pytest

from service.cylinders.filling import filling_limit
from tests.support.rules_compared import differences

CYLINDERS = 2000
BLOCKS = 8


@pytest.mark.parametrize("block", range(BLOCKS))
def test_the_rules_say_of_random_cylinders_what_the_plain_ones_say(shipped, block):
    each = CYLINDERS // BLOCKS
    found = {seed: differences(seed, shipped) for seed in range(block * each, (block + 1) * each)}
    assert {seed: told for seed, told in found.items() if told} == {}


@pytest.fixture
def nothing_remembered():
    """Limits are remembered: neither may an earlier answer hide a changed rule, nor a changed one outlive its test."""
    filling_limit.cache_clear()
    yield
    filling_limit.cache_clear()


@pytest.mark.usefixtures("nothing_remembered")
def test_a_difference_is_told(shipped, monkeypatch):
    monkeypatch.setattr("service.cylinders.filling.LIQUID_SHARE", 0.81)
    told = [line for seed in range(40) for line in differences(seed, shipped)]
    assert any(line.startswith("limit [kg]: plain ") for line in told)
