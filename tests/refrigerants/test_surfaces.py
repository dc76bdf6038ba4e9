import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.refrigerants.surfaces import fill_holes, reciprocal_nodes_k, temp_weights
from service.store.artefacts import load_catalogue, load_curves, load_surfaces

CATALOGUE, CURVES, SURFACES = load_catalogue(), load_curves(), load_surfaces()
NODES_K = reciprocal_nodes_k(6)
BLENDS = [item.designation for item in CATALOGUE.values() if item.is_blend]


def test_rows_follow_the_catalogue_and_columns_the_field() -> None:
    assert SURFACES.designations == CATALOGUE.designations == CURVES.designations
    assert len(SURFACES.contaminants) >= 40
    assert set(SURFACES.contaminants) <= set(CATALOGUE)
    n, s, m = len(CATALOGUE), len(SURFACES.contaminants), SURFACES.temp_nodes_k.size
    assert SURFACES.fill.shape == (n, SURFACES.fill_nodes.size, m)
    assert SURFACES.loss.shape == (n, SURFACES.loss_nodes.size, m)
    assert SURFACES.mixture.shape == (n, s, SURFACES.share_nodes.size, m)
    assert SURFACES.mixture_uncertainty.shape == (n, s)


@given(st.lists(st.floats(233.15, 333.15), min_size=1, max_size=8))
def test_weights_sum_to_one_and_reproduce_a_quintic(temps_k: list[float]) -> None:
    temps = np.array(temps_k)
    weights = temp_weights(NODES_K, temps)

    def quintic(temp_k: np.ndarray) -> np.ndarray:
        x = 300 / temp_k
        return 1 - 2 * x + 3 * x**2 - 0.5 * x**5

    assert weights.shape == (6, temps.size)
    assert weights.sum(axis=0) == pytest.approx(np.ones(temps.size))
    assert quintic(NODES_K) @ weights == pytest.approx(quintic(temps))


def test_holes_take_the_polynomial_through_the_rest() -> None:
    full = 2 + 3 * (300 / NODES_K) - (300 / NODES_K) ** 2
    holed = full.copy()
    holed[[1, 4]] = np.nan
    lonely = np.full(6, np.nan)
    lonely[2] = 1.0
    filled = fill_holes(NODES_K, np.stack([full, holed, lonely]))
    assert filled[0] == pytest.approx(full)
    assert filled[1] == pytest.approx(full)
    assert np.isnan(filled[2]).all()


def test_pure_refrigerants_have_no_fill_effect_and_nothing_to_lose() -> None:
    for item in CATALOGUE.values():
        if not item.is_blend:
            assert not SURFACES.fill[SURFACES.index(item.designation)].any()
            assert np.isnan(SURFACES.loss[SURFACES.index(item.designation)]).all()


def reached(designation: str) -> np.ndarray:
    """Which temperature nodes the designation's own curve reaches; beyond them the table only continues."""
    low, high = CURVES.temp_range_k(designation)
    return (SURFACES.temp_nodes_k >= low) & (SURFACES.temp_nodes_k <= high)


@pytest.mark.parametrize("designation", BLENDS)
def test_less_liquid_never_means_more_pressure(designation: str) -> None:
    fill = SURFACES.fill[SURFACES.index(designation)]
    assert np.isfinite(fill).all()
    assert fill[:, reached(designation)].max() <= 1e-4
    assert np.diff(fill[:, reached(designation)], axis=0).min() >= -1e-4


@pytest.mark.parametrize("designation", BLENDS)
def test_losing_vapour_never_raises_the_pressure_of_the_rest(designation: str) -> None:
    """At the temperature of the loss; an azeotrope may show more when colder or warmer."""
    loss = SURFACES.loss[SURFACES.index(designation)]
    assert np.isfinite(loss).all()
    temp = np.array([min(298.15, CURVES.temp_range_k(designation)[1])])
    at_loss = loss @ SURFACES.temp_weights(temp)
    assert at_loss.max() <= 1e-4
    assert np.diff(at_loss, axis=0).max() <= 1e-4


def test_a_mixture_with_itself_is_not_tabulated_and_little_else_is_missing() -> None:
    missing = np.isnan(SURFACES.mixture).all(axis=(2, 3))
    for k, name in enumerate(SURFACES.contaminants):
        assert missing[SURFACES.index(name), k]
    assert missing.mean() < 0.03


@pytest.mark.parametrize(
    ("designation", "contaminant", "percent_by_share"),
    [
        # Percent above the straight line in mass fraction at 25 C; the project's own flashes
        # (computed, not published).
        ("R-22", "R-410A", {0.5: 3.3}),
        ("R-134a", "R-1234yf", {0.5: 5.2}),
        ("R-404A", "R-134a", {0.5: 0.6}),
        ("R-410A", "R-407C", {0.5: 0.9}),
        ("R-22", "R-407C", {0.5: 2.5}),
        ("R-410A", "R-32", {0.5: 0.7}),
        ("R-134a", "R-12", {0.5: 24.0}),
    ],
)
def test_contamination_at_25_c(
    designation: str, contaminant: str, percent_by_share: dict[float, float]
) -> None:
    temp = np.array([298.15])
    own = float(CURVES.bubble_pressure_pa(designation, 298.15))
    theirs = float(CURVES.bubble_pressure_pa(contaminant, 298.15))
    row = SURFACES.mixture[SURFACES.index(designation), SURFACES.contaminant_index(contaminant)]
    deviation = (row @ SURFACES.temp_weights(temp))[:, 0]
    for share, percent in percent_by_share.items():
        i = int(np.flatnonzero(SURFACES.share_nodes == share)[0])
        pressure = np.exp((1 - share) * np.log(own) + share * np.log(theirs) + deviation[i])
        line = (1 - share) * own + share * theirs
        assert 100 * (pressure / line - 1) == pytest.approx(percent, abs=0.15)


def test_air_solubility_is_an_estimate_within_the_published_bounds() -> None:
    assert ((SURFACES.air_solubility > 0.4) & (SURFACES.air_solubility < 0.9)).all()
    assert (SURFACES.air_solubility_uncertainty >= 0.1).all()
