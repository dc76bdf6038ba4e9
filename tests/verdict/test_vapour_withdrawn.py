"""Vapor drawn off a blend, by the records, is a prior of the verdict: the liquid that is left has shifted."""

import numpy as np
import pytest

from service.store.artefacts import load_curves, load_surfaces
from service.verdict.errors import InvalidEvidence
from service.verdict.model import CylinderFacts, Pair
from service.verdict.quadrature_grids import loss_grid
from service.wiring import verdict_engine


@pytest.fixture(scope="module")
def engine():
    return verdict_engine("north-america")


def shifted_pairs(designation: str, lost: float, temps_k=(297.0,)) -> list[Pair]:
    """Pairs of a blend after a share of its charge left as vapor, by the tabulated surface."""
    curves, surfaces = load_curves(), load_surfaces()
    at = curves.index(designation)
    pairs = []
    for temp_k in temps_k:
        weights = surfaces.temp_weights(np.array([temp_k]))
        deviation = np.interp(lost, surfaces.loss_nodes, (surfaces.loss[at] @ weights)[:, 0])
        pressure = float(curves.bubble_pressure_pa(designation, temp_k)) * float(np.exp(deviation))
        pairs.append(Pair(temp_k, pressure, 0.15, 2000.0, 0.2, 2000.0))
    return pairs


def facts(lost: float | None) -> CylinderFacts:
    return CylinderFacts(
        claimed_designation="R-407C", recorded_contents={"R-407C": 6.0}, vapour_lost_fraction=lost
    )


def test_a_recorded_loss_explains_a_low_pressure(engine):
    pairs = shifted_pairs("R-407C", 0.4)
    unaware, aware = engine.verdict(pairs, facts(None)), engine.verdict(pairs, facts(0.4))
    assert aware.identity.candidates[0].designation == "R-407C"
    assert aware.contamination.probabilities["shifted"] > unaware.contamination.probabilities["shifted"]
    assert aware.contamination.finding == "shifted"


def test_without_vapour_drawn_nothing_changes(engine):
    pairs = shifted_pairs("R-407C", 0.4)
    assert (
        engine.verdict(pairs, facts(None))
        == engine.verdict(pairs, facts(0.0))
        == engine.verdict(pairs, facts(0.01))
    )


def test_a_pure_refrigerant_cannot_shift(engine):
    pressure = float(load_curves().bubble_pressure_pa("R-22", 297.0))
    known = CylinderFacts(
        claimed_designation="R-22", recorded_contents={"R-22": 6.0}, vapour_lost_fraction=0.5
    )
    verdict = engine.verdict([Pair(297.0, pressure, 0.15, 2000.0, 0.2, 2000.0)], known)
    assert verdict.identity.candidates[0].designation == "R-22"
    assert verdict.contamination.finding == "none-detected"


def test_the_flat_prior_knows_nothing_of_it(engine):
    pairs = shifted_pairs("R-407C", 0.4)
    assert engine.verdict(pairs, facts(0.4), prior="flat") == engine.verdict(pairs, facts(None), prior="flat")


@pytest.mark.parametrize("lost", [-0.1, 1.1, float("nan")])
def test_a_share_is_a_share(engine, lost):
    with pytest.raises(InvalidEvidence, match="vapour_lost_fraction"):
        engine.verdict(shifted_pairs("R-407C", 0.4), facts(lost))


@pytest.mark.parametrize("value", [None, 0.02, 0.4, 0.7, 1.0])
def test_the_grid_stays_normalised(value):
    assert np.exp(loss_grid().log_mass_about(value)).sum() == pytest.approx(1.0)
