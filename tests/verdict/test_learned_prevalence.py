"""The owner's prevalence: Dirichlet counts over the region's table."""

import numpy as np
import pytest

from service.store.artefacts import load_catalogue, load_curves
from service.store.prevalence import load_prevalence
from service.verdict.model import CylinderFacts
from service.verdict.priors import PriorBook

TABLE = load_prevalence()


def test_without_counts_it_is_the_table() -> None:
    found = TABLE.learned({}, 200)
    assert all(share == pytest.approx(table) for table, share in found.values())
    assert sum(share for _, share in found.values()) == pytest.approx(1 - TABLE.other_share)
    assert next(iter(found)) == max(TABLE.weights, key=lambda name: TABLE.weights[name])


def test_counts_as_many_as_the_table_weighs_meet_it_half_way() -> None:
    table, share = TABLE.learned({"R-12": round(TABLE.history_strength)}, 200)["R-12"]
    assert share == pytest.approx((table + 1) / 2)


def test_what_the_table_does_not_name_is_learned_too() -> None:
    table, share = TABLE.learned({"R-13B1": 3}, 200)["R-13B1"]
    assert table == pytest.approx(TABLE.other_share / (200 - len(TABLE.weights)))
    assert share == pytest.approx((3 + TABLE.history_strength * table) / (3 + TABLE.history_strength))


def test_the_page_says_what_the_verdict_takes() -> None:
    names = load_curves().designations
    book = PriorBook(TABLE, names, (), np.ones(len(names), bool), np.ones((len(names), 0), bool))
    counts = {"R-12": 7, "R-22": 2}
    taken = book.priors(CylinderFacts(history=counts), "field").designation
    told = TABLE.learned(counts, len(load_catalogue()))
    assert [taken[names.index(name)] for name in counts] == [pytest.approx(told[name][1]) for name in counts]
