"""Scores of verdicts against what turned out, by hand for a few and by simulation for many."""

import math

import numpy as np
import pytest

from service.verdict.believed import LEAST
from service.verdict.truth.scores import Case, Stated, by, reliability, summary


def case(
    told: dict[str, float], truth: str | None, state: str | None = "none", finding: str = "none-detected",
    contaminated: float = 0.05,
) -> Case:  # fmt: skip
    listed = tuple(name for name, share in told.items() if share > 0.05)
    return Case(Stated(told, contaminated, listed, "identified", finding), truth, state)


def sure(value: float | None) -> float:
    assert value is not None
    return value


def test_scores_of_one_case_by_hand() -> None:
    one = case({"R-22": 0.8, "R-407C": 0.15}, "R-407C")
    assert one.log_score == pytest.approx(math.log(0.15))
    # 0.8^2 + (0.15 - 1)^2 + 0.05^2, the last for what is in no catalogue.
    assert one.brier == pytest.approx(0.64 + 0.7225 + 0.0025)
    assert (one.right_first, one.covered) == (False, True)


def test_what_no_verdict_named_scores_as_the_least_that_is_kept() -> None:
    one = case({"R-22": 1.0}, "R-12")
    assert one.log_score == pytest.approx(math.log(LEAST))
    assert one.brier == pytest.approx(2.0)
    assert not one.covered


def test_what_is_in_no_catalogue_gets_what_is_left() -> None:
    one = case({"R-22": 0.3, "R-12": 0.2}, None, None)
    assert one.probability == pytest.approx(0.5)
    assert one.brier == pytest.approx(0.09 + 0.04 + 0.25)
    assert not one.right_first


def test_contamination_is_scored_where_it_turned_out() -> None:
    cases = [
        case({"R-22": 1.0}, "R-22", "none", "mixed", 0.95),
        case({"R-22": 1.0}, "R-22", "none", "none-detected", 0.05),
        case({"R-22": 1.0}, "R-22", "mixed", "none-detected", 0.05),
        case({"R-22": 1.0}, "R-22", None),
    ]
    found = summary(cases)
    assert (found.clean_accused.count, found.clean_accused.of) == (1, 2)
    assert (found.contamination_missed.count, found.contamination_missed.of) == (1, 1)
    assert found.contamination_brier.mean == pytest.approx((0.95**2 + 0.05**2 + 0.95**2) / 3)


def test_nothing_is_said_of_no_cases() -> None:
    found = summary([])
    assert (found.cases, found.log_score.mean, found.right_first.share, found.stated_first) == (
        0,
        None,
        None,
        None,
    )
    assert reliability([]) == ()


def test_one_case_has_no_standard_error() -> None:
    assert summary([case({"R-22": 0.9}, "R-22")]).brier.standard_error is None


def test_groups_are_the_largest_first_and_none_leaves_out() -> None:
    cases = [case({"R-22": 1.0}, name) for name in ("R-22", "R-12", "R-22", None)]
    found = by(cases, lambda index: cases[index].designation)
    assert [(name, one.cases) for name, one in found.items()] == [("R-22", 2), ("R-12", 1)]


def test_verdicts_that_mean_what_they_say_are_on_the_diagonal_and_others_are_not() -> None:
    rng = np.random.default_rng(3)
    stated = [float(p) for p in rng.uniform(0.5, 1.0, 4000)]
    truths = ["R-22" if rng.random() < p else "R-12" for p in stated]
    honest, boastful = (
        [case({"R-22": p + extra * (1 - p), "R-12": (1 - extra) * (1 - p)}, name)
         for p, name in zip(stated, truths, strict=True)]
        for extra in (0.0, 0.6)
    )  # fmt: skip
    for one in reliability(honest):
        # Three times the 95 % half-width: a fair bin leaves it once in a hundred million.
        assert abs(one.stated - sure(one.right.share)) < 1.5 * (sure(one.right.high) - sure(one.right.low))
    assert any(one.stated > sure(one.right.high) for one in reliability(boastful))
    fair, proud = summary(honest), summary(boastful)
    assert sure(fair.log_score.mean) > sure(proud.log_score.mean)
    assert sure(fair.brier.mean) < sure(proud.brier.mean)


def test_a_certain_verdict_is_in_the_last_bin() -> None:
    (found,) = reliability([case({"R-22": 1.0}, "R-22")])
    assert (found.low, found.high, found.right.of) == (0.97, 1.0, 1)
