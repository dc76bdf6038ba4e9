"""Whatever happens to a cylinder, no two voices contradict each other, and no act makes the program forget.

A few histories each time; ``python -m tests.benchmarks.voices --cylinders N`` plays as many as one wants.
"""

from collections.abc import Iterator
from itertools import count
from random import Random

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from service.wiring import LateJudge, verdict_engine
from tests.support.histories import random_act, random_start
from tests.support.shop import Shop, open_shop
from tests.support.told import history

SERIALS = count(1)
DICE = st.integers(0, 2**32).map(Random)
STARTS = DICE.map(random_start)
ACTS = st.lists(DICE.map(random_act), min_size=2, max_size=5)
PLAIN = {"claimed_designation": "R-22", "gross_mass_kg": 18.7}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    judge = LateJudge("north-america", verdict_engine("north-america"))
    with open_shop(tmp_path_factory.mktemp("shop"), judge) as shop:
        yield shop


@settings(
    max_examples=4, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck), database=None
)
@example(PLAIN, [("settle", "R-290", 23.0, 0.1, 0.0), ("all-out", True), ("fill", "R-22", 1.0, False)])
@example({**PLAIN, "gross_mass_kg": 38.0}, [("hold",), ("draw", 1.0, "liquid", False), ("lift",)])
@example({**PLAIN, "claimed_designation": "R-410A"}, [("relabel", "R-717"), ("fill", "R-410A", 0.3, True)])
@example(
    {**PLAIN, "claimed_designation": "R-410A"},
    [
        ("hook-up",), ("live", "R-410A", 55.0, 0.0, 6.0), ("acknowledge",), ("live", "R-410A", 12.0, 0.0, 6.0),
        ("wait", 30), ("unhook",),
    ],
)  # fmt: skip
@example(
    {"gross_mass_kg": 12.7, "evacuated": True},
    [("fill", "R-22", 6.0, False), ("fill", "R-32", 0.3, True), ("correct", 0.02), ("weigh", 20.0), ("correct", 3.0),
     ("acknowledge",), ("fill", "R-22", 0.3, True)],
)  # fmt: skip
@given(STARTS, ACTS)
def test_no_two_voices_contradict_each_other_and_nothing_is_forgotten(shop, start, acts):
    assert history(shop, f"HM-{next(SERIALS)}", start, acts).wrong == []
