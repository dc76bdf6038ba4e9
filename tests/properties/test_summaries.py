"""Whatever happens to a cylinder, what is kept of its judgement is what the judgement says now, or nothing is."""

from collections.abc import Iterator
from datetime import timedelta
from itertools import count
from random import Random

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from service.operations.support import judgements, summaries
from service.store import summaries as kept
from service.wiring import LateJudge, verdict_engine
from tests.support.histories import play, random_act, random_start, register
from tests.support.shop import Shop, open_shop

SERIALS = count(1)
DICE = st.integers(0, 2**32).map(Random)
STARTS = DICE.map(random_start)
ACTS = st.lists(DICE.map(random_act), min_size=2, max_size=6)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    judge = LateJudge("north-america", verdict_engine("north-america"))
    with open_shop(tmp_path_factory.mktemp("shop"), judge) as shop:
        yield shop


def compared(shop: Shop, serial: str) -> tuple[object, object]:
    """What is kept, and what would be kept of a judgement made now."""
    now = judgements.of_serial(shop.services, shop.actor, serial)
    with shop.services.database.reading(shop.actor.organisation_id) as work:
        return kept.of(work, [now.row.id]).get(now.row.id), summaries.summary(shop.services, now)


@settings(
    max_examples=8, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck), database=None
)
@example({"claimed_designation": "R-22"}, [("settle", "R-290", 23.0, 0.1, 0.0), ("fill", "R-22", 1.0, False)])
@example({"claimed_designation": "R-410A"}, [("relabel", "R-717"), ("hold",), ("lift",), ("all-out", True)])
@given(STARTS, ACTS)
def test_what_is_kept_is_what_the_judgement_says(shop, start, acts):
    serial = f"HM-{next(SERIALS)}"
    register(shop, serial, start)
    for act in acts:
        play(shop, serial, act)
        stored, fresh = compared(shop, serial)
        assert stored in (None, fresh), act


def test_time_alone_changes_nothing_of_it(shop: Shop) -> None:
    shop.register("HM-OLD", claimed_designation="R-22")
    before, _ = compared(shop, "HM-OLD")
    shop.clock.forward(seconds=timedelta(days=4 * 366).total_seconds())
    assert compared(shop, "HM-OLD") == (before, before)
