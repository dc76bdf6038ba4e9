"""The rules of the United States answer as they did before they became a rule book."""

import csv

import pytest

from tests.cylinders.us_grid import ANSWERS, answers, digests

with ANSWERS.open(newline="", encoding="utf-8") as file:
    WRITTEN = {row["first"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="module")
def today() -> dict[str, tuple[int, str]]:
    return {first: (questions, digest) for first, questions, digest in digests()}


@pytest.mark.parametrize("first", WRITTEN)
def test_no_answer_of_a_block_has_changed(first: str, today: dict[str, tuple[int, str]]) -> None:
    assert today[first] == (int(WRITTEN[first]["questions"]), WRITTEN[first]["sha256"])


def test_the_grid_meets_every_kind_of_answer() -> None:
    said = " ".join(answer for _, answer in answers())
    for code in (
        "rating-55c", "rating-21c", "rating-iso", "rating-unproven", "packaging-not-listed", "packaging-listed",
        "non-refillable", "marks-unknown", "flammable-not-marked", "fill-80-percent", "fill-55c", "fill-density",
        "fill-density-lpg", "fill-density-supercritical", "fill-iso-50c", "fill-iso-60c", "requalification-overdue",
        "requalification-unknown", "requalification-12-years", "rcl", "oxygen", "materials-of-trade-vehicle",
    ):  # fmt: skip
        assert code in said, code
