"""The committed tables against the equation of state, and against a rebuild of a sample."""

import csv
from dataclasses import fields

import numpy as np
import pytest

from service.refrigerants.catalogue import SOURCED_FIELDS
from service.refrigerants.catalogue_builder import (
    CompositionMismatch,
    blend_compositions,
    build_catalogue,
    composition_of,
    read_facts,
)
from service.refrigerants.deviations import fill_row, loss_row, mixed_composition, mixture_row
from service.refrigerants.equation_of_state import EquationOfState, NoConvergence
from service.refrigerants.saturation_fit import fit_saturation
from service.store.artefacts import (
    load_catalogue,
    load_curves,
    load_provenance,
    load_surfaces,
    load_uncertainties,
)
from service.store.tabulation import DATA

CATALOGUE, CURVES, SURFACES = load_catalogue(), load_curves(), load_surfaces()
PROVENANCE = load_provenance()
SAMPLE = ["R-22", "R-744", "R-410A", "R-407C", "R-438A", "R-508B"]


def facts_rows() -> list[dict[str, str]]:
    with (DATA / "facts.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_provenance_names_the_release_the_ranges_and_the_pairs() -> None:
    assert PROVENANCE["coolprop"].startswith(("8.", "9.", "1"))
    assert set(PROVENANCE["saturation"]) == set(CATALOGUE)
    assert PROVENANCE["stand_in_pairs"]["R-115+R-22"]["gamma_t"] == 0.9478
    assert "R-468A" in PROVENANCE["left_out"]


def test_the_catalogue_is_what_the_facts_make() -> None:
    rebuilt = build_catalogue(read_facts(facts_rows()), load_uncertainties())
    assert rebuilt.designations == CATALOGUE.designations
    for name, item in rebuilt.items():
        assert item.components == CATALOGUE[name].components
        assert item.model == CATALOGUE[name].model
        assert item.relative_uncertainty == pytest.approx(CATALOGUE[name].relative_uncertainty, abs=1e-4)
        for field in SOURCED_FIELDS:
            ours, theirs = getattr(item, field), getattr(CATALOGUE[name], field)
            assert (ours.value, ours.mark) == (theirs.value, theirs.mark), (name, field)


def test_a_stated_composition_that_differs_from_the_predefined_is_refused() -> None:
    facts = read_facts(
        [
            {
                "designation": "R-410A",
                "field": "composition_mass_pct",
                "value": "R-32 60 + R-125 40",
                "mark": "memory",
                "source": "invented",
            }
        ]
    )
    with pytest.raises(CompositionMismatch, match="R-410A"):
        blend_compositions(facts)


def test_residuals_stated_meet_the_promise() -> None:
    for name, record in PROVENANCE["saturation"].items():
        residual = record["largest_relative_residual"]
        assert max(residual["bubble_pressure"], residual["dew_pressure"]) < 2e-4, name
        assert max(residual["liquid_density"], residual["vapour_density"]) < 1e-3, name


@pytest.mark.parametrize("designation", SAMPLE)
def test_a_rebuilt_curve_is_the_committed_one(designation: str) -> None:
    fit, row = fit_saturation(composition_of(CATALOGUE[designation])), CURVES.index(designation)
    assert (fit.temp_min_k, fit.temp_max_k) == pytest.approx(CURVES.temp_range_k(designation), abs=0.01)
    assert fit.series["bubble_pressure"] == pytest.approx(CURVES.tables.log_bubble_pressure[row], abs=1e-6)
    assert fit.series["dew_pressure"] == pytest.approx(CURVES.tables.log_dew_pressure[row], abs=1e-6)


@pytest.mark.parametrize("designation", CATALOGUE)
def test_every_curve_follows_the_equation_of_state(designation: str) -> None:
    """Within 0.02 % of pressure and 0.1 % of density wherever it converges, at points of no other use."""
    equation = EquationOfState(composition_of(CATALOGUE[designation]))
    low, high = CURVES.temp_range_k(designation)
    solved = 0
    for temp in np.linspace(low, high, 12) + np.array([0.013, *[0.37] * 10, -0.013]):
        try:
            bubble, dew = equation.bubble(float(temp)), equation.dew(float(temp))
        except NoConvergence:
            continue
        if bubble.pressure_pa < dew.pressure_pa * (1 - 1e-5):
            continue
        solved += 1
        mass = equation.molar_mass_kg_mol
        assert CURVES.bubble_pressure_pa(designation, temp) == pytest.approx(bubble.pressure_pa, rel=2e-4)
        assert CURVES.dew_pressure_pa(designation, temp) == pytest.approx(dew.pressure_pa, rel=2e-4)
        liquid, vapour = bubble.liquid_density_mol_m3 * mass, dew.vapour_density_mol_m3 * mass
        assert CURVES.liquid_density_kg_m3(designation, temp) == pytest.approx(liquid, rel=1e-3)
        assert CURVES.vapour_density_kg_m3(designation, temp) == pytest.approx(vapour, rel=1e-3)
    assert solved >= 10


@pytest.mark.parametrize("designation", ["R-407C", "R-410A", "R-454C"])
def test_rebuilt_fill_and_loss_are_the_committed_ones(designation: str) -> None:
    item, row = CATALOGUE[designation], SURFACES.index(designation)
    assert fill_row(item) == pytest.approx(SURFACES.fill[row], abs=1e-5)
    assert loss_row(item) == pytest.approx(SURFACES.loss[row], abs=1e-5)


def test_rebuilt_mixtures_are_the_committed_ones() -> None:
    names = ("R-410A", "R-12", "R-290")
    rebuilt = mixture_row(
        CATALOGUE["R-134a"], {name: CATALOGUE[name] for name in names}, load_uncertainties()
    )
    for k, name in enumerate(names):
        committed = SURFACES.mixture[SURFACES.index("R-134a"), SURFACES.contaminant_index(name)]
        assert rebuilt.mixture[k] == pytest.approx(committed, abs=1e-5)


@pytest.mark.parametrize(
    ("designation", "contaminant"),
    [("R-22", "R-410A"), ("R-134a", "R-12"), ("R-404A", "R-22"), ("R-410A", "R-454B"), ("R-600a", "R-134a")],
)
def test_a_mixture_between_the_temperature_nodes(designation: str, contaminant: str) -> None:
    row = SURFACES.mixture[SURFACES.index(designation), SURFACES.contaminant_index(contaminant)]
    temps = np.array([243.0, 268.0, 291.0, 309.0, 325.0])
    deviation = row @ SURFACES.temp_weights(temps)
    for i, share in enumerate(SURFACES.share_nodes):
        equation = EquationOfState(
            mixed_composition(CATALOGUE[designation], CATALOGUE[contaminant], float(share))
        )
        for j, temp in enumerate(temps):
            own = np.log(CURVES.bubble_pressure_pa(designation, temp))
            theirs = np.log(CURVES.bubble_pressure_pa(contaminant, temp))
            tabulated = (1 - share) * own + share * theirs + deviation[i, j]
            assert tabulated == pytest.approx(np.log(equation.bubble(float(temp)).pressure_pa), abs=3e-4)


def test_surfaces_hold_single_precision_where_they_are_large() -> None:
    large = [f.name for f in fields(SURFACES) if getattr(getattr(SURFACES, f.name), "ndim", 0) >= 2]
    assert all(getattr(SURFACES, name).dtype == np.float32 for name in large)
