import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.refrigerants.catalogue import SOURCED_FIELDS, Catalogue, UnknownRefrigerant
from service.refrigerants.fluids import FLUIDS, LEFT_OUT
from service.store.artefacts import load_catalogue

CATALOGUE = load_catalogue()


def test_every_pure_component_and_every_blend_that_can_be_modelled_is_there() -> None:
    assert len(CATALOGUE) >= 170
    assert set(FLUIDS) - set(LEFT_OUT) <= set(CATALOGUE)
    assert not set(LEFT_OUT) & set(CATALOGUE)


@pytest.mark.parametrize("designation", CATALOGUE)
def test_mass_fractions_sum_to_one_over_known_components(designation: str) -> None:
    item = CATALOGUE[designation]
    assert sum(item.mass_fractions.values()) == pytest.approx(1.0, abs=1e-9)
    assert set(item.mass_fractions) <= set(FLUIDS)
    assert item.is_blend == (designation not in FLUIDS)


@pytest.mark.parametrize("designation", CATALOGUE)
def test_every_fact_says_how_it_is_known_and_the_unknown_say_why(designation: str) -> None:
    for name in SOURCED_FIELDS:
        fact = getattr(CATALOGUE[designation], name)
        assert fact.source, name
        assert fact.mark in {"read", "memory", "computed", "inferred", "unknown"}, name
        assert (fact.value is None) == (fact.mark == "unknown"), name


@pytest.mark.parametrize("designation", CATALOGUE)
def test_uncertainty_is_stated_with_its_reason(designation: str) -> None:
    item = CATALOGUE[designation]
    assert 0.0015 <= item.relative_uncertainty <= 0.25
    assert item.uncertainty_reason


def test_figures_with_a_known_answer() -> None:
    r410a = CATALOGUE["R-410A"]
    assert r410a.mass_fractions == {"R-32": 0.5, "R-125": 0.5}
    assert r410a.safety_class.value == "A1"
    assert r410a.gwp_ar4.value == pytest.approx(2088, abs=0.5)
    assert r410a.gwp_ar4.mark == "computed"
    assert CATALOGUE["R-404A"].un_number.value == "UN3337"
    assert CATALOGUE["R-410A"].un_number.value == "UN3163"
    assert CATALOGUE["R-454B"].hazard_division.value == "2.1"


def test_blend_without_a_component_figure_has_no_climate_figure() -> None:
    fact = CATALOGUE["R-514A"].gwp_ar5
    assert fact.value is None
    assert "R-1130(E)" in fact.source


@given(st.sampled_from(CATALOGUE.designations), st.sampled_from(["{}", " {} ", "{}".lower(), "HFC"]))
def test_spelling_does_not_matter(designation: str, style: str) -> None:
    written = {"HFC": designation.replace("R-", "HFC-")}.get(style, style.format(designation))
    for text in (written, written.lower(), written.replace("-", ""), written.replace("-", " ")):
        assert CATALOGUE.normalise(text) == designation


@pytest.mark.parametrize("text", ["", "R", "R-9999", "propane!", "R-1234ze", "R-134"])
def test_what_is_no_designation_is_named_in_the_refusal(text: str) -> None:
    with pytest.raises(UnknownRefrigerant) as refusal:
        CATALOGUE.normalise(text)
    assert repr(text) in str(refusal.value)


def test_unknown_key_names_itself() -> None:
    with pytest.raises(UnknownRefrigerant, match="R-0"):
        CATALOGUE["R-0"]


def test_json_comes_back_the_same() -> None:
    text = CATALOGUE.to_json()
    assert json.loads(text)
    assert dict(Catalogue.from_json(text)) == dict(CATALOGUE)


@pytest.mark.parametrize(
    ("designation", "ar4"),
    [
        # Regulation (EU) 517/2014 annexes I and IV and 40 CFR 84 app. A by mass, from memory: whole numbers as printed.
        ("R-404A", 3922), ("R-410A", 2088), ("R-407C", 1774), ("R-507A", 3985), ("R-448A", 1387), ("R-422D", 2729),
        ("R-417A", 2346), ("R-454B", 466), ("R-513A", 631), ("R-452A", 2140), ("R-290", 3), ("R-600a", 3),
    ],
)  # fmt: skip
def test_published_warming_potentials(designation: str, ar4: int) -> None:
    assert CATALOGUE[designation].gwp_ar4.value == pytest.approx(ar4, abs=1.0)


def test_a_limit_that_follows_from_components_is_marked_and_never_above_the_oxygen_limit() -> None:
    computed = [one for one in CATALOGUE.values() if one.rcl_ppm.mark == "computed"]
    assert len(computed) > 30
    assert all(one.rcl_ppm.value is not None and one.rcl_ppm.value <= 140_000 for one in computed)
    # R-407G is 2.5 R-32, 2.5 R-125, 95 R-134a by mass: 1 / (0.0478/36 000 + 0.0207/75 000 + 0.9315/50 000), by hand.
    assert CATALOGUE["R-407G"].rcl_ppm.value == pytest.approx(49_000, rel=0.02)


@pytest.mark.parametrize(
    "designation",
    [
        "R-422B",
        "R-414B",
        "R-437A",
        "R-453A",
        "R-455A",
        "R-424A",
        "R-434A",
        "R-413A",
        "R-454B",
        "R-123",
        "R-11",
    ],
)
def test_what_is_met_in_the_field_has_a_limit(designation: str) -> None:
    assert CATALOGUE[designation].rcl_ppm.value is not None


@pytest.mark.parametrize("designation", ["R-13", "R-503"])
def test_where_the_code_prints_a_dash_there_is_no_limit(designation: str) -> None:
    # IMC table 1103.1 prints a dash for R-13 (read): none is made up, for R-503 neither.
    assert CATALOGUE[designation].rcl_ppm.value is None
