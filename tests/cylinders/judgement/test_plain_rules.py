"""The rules that decide and the plain ones say the same; ``tests.benchmarks.rules_compared`` asks a million times."""

import pytest

from service.operations.support.rule_data import knowledge_of
from service.store.artefacts import load_catalogue, load_curves
from tests.support.rules_compared import differences

CYLINDERS = 2000
BLOCKS = 8


@pytest.mark.parametrize("block", range(BLOCKS))
def test_the_rules_say_of_random_cylinders_what_the_plain_ones_say(shipped, block):
    each = CYLINDERS // BLOCKS
    found = {seed: differences(seed, shipped) for seed in range(block * each, (block + 1) * each)}
    assert {seed: told for seed, told in found.items() if told} == {}


def test_a_difference_is_told(monkeypatch):
    """With its own knowledge: limits are remembered for what they were computed with."""
    fresh = knowledge_of(load_catalogue(), load_curves())
    monkeypatch.setattr("service.cylinders.filling.LIQUID_SHARE", 0.81)
    told = [line for seed in range(40) for line in differences(seed, fresh)]
    assert any(line.startswith("limit [kg]: plain ") for line in told)
