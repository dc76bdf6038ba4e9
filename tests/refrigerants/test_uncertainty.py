import pytest

from service.refrigerants.composition import Composition
from service.refrigerants.pair_remedies import remedy_for
from service.refrigerants.uncertainty import designation_uncertainty, mixing_uncertainty
from service.store.artefacts import load_catalogue

CATALOGUE = load_catalogue()


@pytest.mark.parametrize(
    ("designation", "least", "most"),
    [
        ("R-22", 0.0015, 0.0015),
        ("R-410A", 0.003, 0.006),
        ("R-407C", 0.003, 0.011),
        ("R-454B", 0.007, 0.011),
        ("R-438A", 0.010, 0.020),
        ("R-401A", 0.025, 0.035),
        ("R-402A", 0.025, 0.035),
        ("R-445A", 0.15, 0.25),
    ],
)
def test_follows_the_error_budget(designation: str, least: float, most: float) -> None:
    assert least <= CATALOGUE[designation].relative_uncertainty <= most


def test_a_guessed_pair_counts_most_at_mid_composition() -> None:
    pair = frozenset(("R-123", "R-22"))
    remedies = {pair: remedy_for("R-123", "R-22")}
    half = mixing_uncertainty(Composition(("R-123", "R-22"), (0.5, 0.5)), remedies)[0]
    trace = mixing_uncertainty(Composition(("R-123", "R-22"), (0.99, 0.01)), remedies)[0]
    assert half == pytest.approx(0.03)
    assert trace < 0.002


def test_wide_glide_makes_the_makers_tolerance_count_more() -> None:
    composition = Composition(("R-32", "R-134a"), (0.5, 0.5))
    remedies = {frozenset(("R-32", "R-134a")): None}
    narrow = designation_uncertainty("x", composition, remedies, 0.0)[0]
    wide = designation_uncertainty("x", composition, remedies, 0.2)[0]
    assert narrow < wide < 0.012


def test_stand_in_pairs_are_named_in_the_model() -> None:
    assert "R-22+R-600a assigned gammaT 0.94" in CATALOGUE["R-406A"].model
    assert "fitted" in CATALOGUE["R-502"].model
    assert CATALOGUE["R-410A"].model == "multi-fluid mixture"
