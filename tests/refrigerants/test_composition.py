import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.refrigerants.composition import Composition, from_mass, mixed_mass_fractions, normalised

MASSES = {"R-32": 0.052, "R-125": 0.120, "R-134a": 0.102}


def test_equal_masses_give_more_moles_of_the_lighter() -> None:
    composition = from_mass({"R-32": 0.5, "R-125": 0.5}, MASSES)
    assert composition.components == ("R-32", "R-125")
    assert composition.mole_fractions == pytest.approx((0.6976, 0.3024), abs=1e-3)


def test_a_zero_share_is_no_component() -> None:
    assert from_mass({"R-32": 1.0, "R-125": 0.0}, MASSES).is_pure


@pytest.mark.parametrize(
    ("components", "fractions"),
    [((), ()), (("R-32",), (0.5,)), (("R-32", "R-125"), (1.0,)), (("R-32", "R-125"), (1.1, -0.1))],
)
def test_what_is_no_composition_is_refused(components: tuple[str, ...], fractions: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="expected"):
        Composition(components, fractions)


@given(st.lists(st.floats(1e-6, 1e3), min_size=1, max_size=5))
def test_amounts_normalise(amounts: list[float]) -> None:
    composition = normalised([f"R-{i}" for i in range(len(amounts))], amounts)
    assert sum(composition.mole_fractions) == pytest.approx(1.0, abs=1e-9)


@given(st.floats(0.001, 0.999))
def test_mixing_keeps_the_mass_and_merges_what_is_common(share: float) -> None:
    mixture = mixed_mass_fractions({"R-32": 0.5, "R-125": 0.5}, {"R-125": 0.5, "R-134a": 0.5}, share)
    assert sum(mixture.values()) == pytest.approx(1.0)
    assert mixture["R-125"] == pytest.approx(0.5)
    assert mixture["R-134a"] == pytest.approx(0.5 * share)
