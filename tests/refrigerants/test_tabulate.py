import numpy as np
import pytest

from service.refrigerants import tabulate
from service.refrigerants.catalogue import Catalogue
from service.store.artefacts import load_catalogue, load_curves, load_surfaces, load_uncertainties

CURVES, SURFACES = load_curves(), load_surfaces()
SMALL = Catalogue({name: load_catalogue()[name] for name in ("R-134a", "R-12", "R-500")})


def test_curves_of_a_small_catalogue_are_the_committed_rows() -> None:
    artefact = tabulate.tabulate_saturation(SMALL)
    assert artefact.tables.designations == SMALL.designations
    assert set(artefact.provenance) == set(SMALL)
    for row, name in enumerate(SMALL):
        committed = CURVES.tables.log_bubble_pressure[CURVES.index(name)]
        assert artefact.tables.log_bubble_pressure[row] == pytest.approx(committed, abs=1e-6)
    assert artefact.provenance["R-500"]["largest_relative_residual"]["bubble_pressure"] < 2e-4


def test_surfaces_of_a_small_catalogue_are_the_committed_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tabulate, "CONTAMINANTS", ("R-12", "R-134a"))
    labels = []

    def mapped(label: str) -> tabulate.Map:
        labels.append(label)
        return map

    artefact = tabulate.tabulate_surfaces(SMALL, CURVES.tables, load_uncertainties(), mapped)
    surfaces = artefact.surfaces
    assert len(labels) == 3
    assert artefact.failures == {}
    assert surfaces.mixture.shape == (3, 2, surfaces.share_nodes.size, surfaces.temp_nodes_k.size)
    assert np.isnan(surfaces.mixture[0, 1]).all()
    columns = [SURFACES.contaminant_index(name) for name in surfaces.contaminants]
    for row, name in enumerate(SMALL):
        committed = SURFACES.mixture[SURFACES.index(name)][columns]
        assert surfaces.mixture[row] == pytest.approx(committed, abs=1e-5, nan_ok=True)
        assert surfaces.fill[row] == pytest.approx(SURFACES.fill[SURFACES.index(name)], abs=1e-5)
    assert surfaces.mixture_uncertainty[0, 0] == pytest.approx(0.005, abs=1e-3)


def test_stand_in_pairs_carry_their_evidence() -> None:
    pairs = tabulate.stand_in_pairs(SMALL)
    assert pairs["R-12+R-152a"]["gamma_t"] == 0.9429
    assert all(pair["evidence"] for pair in pairs.values())
