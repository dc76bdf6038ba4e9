import csv

import pytest

from service.refrigerants.composition import Composition
from service.refrigerants.pair_remedies import remedy_for
from service.refrigerants.uncertainty import pair_class
from service.store.artefacts import load_catalogue, load_uncertainties
from service.store.tabulation import DATA

CATALOGUE, STATED = load_catalogue(), load_uncertainties()


@pytest.mark.parametrize(
    ("designation", "least", "most"),
    [
        ("R-22", 0.0015, 0.0020),
        ("R-410A", 0.003, 0.006),
        ("R-404A", 0.003, 0.008),
        ("R-407C", 0.008, 0.014),
        ("R-454B", 0.007, 0.011),
        ("R-438A", 0.010, 0.020),
        ("R-401A", 0.025, 0.035),
        ("R-402A", 0.025, 0.035),
        ("R-430A", 0.030, 0.040),
        ("R-445A", 0.15, 0.25),
    ],
)
def test_follows_the_error_budget(designation: str, least: float, most: float) -> None:
    assert least <= CATALOGUE[designation].relative_uncertainty <= most


def test_a_guessed_pair_counts_most_at_mid_composition() -> None:
    pair = frozenset(("R-123", "R-22"))
    remedies = {pair: remedy_for("R-123", "R-22")}
    half = STATED.mixing(Composition(("R-123", "R-22"), (0.5, 0.5)), remedies)[0]
    trace = STATED.mixing(Composition(("R-123", "R-22"), (0.99, 0.01)), remedies)[0]
    assert 0.03 <= half <= 0.08
    assert trace == pytest.approx(half * 4 * 0.99 * 0.01)


def test_wide_glide_makes_the_makers_tolerance_count_more() -> None:
    composition = Composition(("R-32", "R-134a"), (0.5, 0.5))
    remedies = {frozenset(("R-32", "R-134a")): None}
    narrow = STATED.designation("x", composition, remedies, 0.0)[0]
    wide = STATED.designation("x", composition, remedies, 0.2)[0]
    assert wide**2 - narrow**2 == pytest.approx(0.010**2 - 0.003**2)


def test_a_blend_compared_as_a_whole_is_stated_no_wider_than_that() -> None:
    assert STATED.wholes["R-407C"][0] == 0.005
    assert "compared as a whole" in CATALOGUE["R-407C"].uncertainty_reason
    assert CATALOGUE["R-407C"].relative_uncertainty < CATALOGUE["R-407A"].relative_uncertainty
    # Where its pairs are known better than that, they stand.
    assert "compared as a whole" not in CATALOGUE["R-410A"].uncertainty_reason


def test_stand_in_pairs_are_named_in_the_model() -> None:
    assert "R-22+R-600a assigned gammaT 0.94" in CATALOGUE["R-406A"].model
    assert "fitted" in CATALOGUE["R-502"].model
    assert CATALOGUE["R-410A"].model == "multi-fluid mixture"


def test_a_measured_pair_goes_before_its_class() -> None:
    value, reason = STATED.pair("R-32", "R-125", None)
    assert value == STATED.pairs[frozenset(("R-32", "R-125"))][0]
    assert "measured, 2 papers" in reason
    assert STATED.pair("R-125", "R-143a", None)[0] == STATED.classes["HFC"][0]


@pytest.mark.parametrize(
    ("pair", "name"),
    [
        (("R-32", "R-134a"), "HFC"),
        (("R-32", "R-161"), "HFC with R-23, R-161 or R-245fa"),
        (("R-32", "R-1234yf"), "HFO"),
        (("R-290", "R-1234yf"), "hydrocarbon, ether or other"),
        (("R-22", "R-12"), "CFC, HCFC or PFC"),
    ],
)
def test_the_class_of_a_shipped_pair(pair: tuple[str, str], name: str) -> None:
    assert pair_class(*pair, None) == name


def test_every_figure_says_how_it_is_known_and_from_where() -> None:
    with (DATA / "uncertainty.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert {row["kind"] for row in rows} == {"fluid", "blend", "class", "pair", "designation", "whole"}
    for row in rows:
        assert 0.0 < float(row["relative_uncertainty"]) < 0.5
        assert row["mark"] in ("read", "computed", "inferred")
        assert row["reason"] and row["source"]
        assert not row["papers"] or row["source"].count("doi:10.") == int(row["papers"])
