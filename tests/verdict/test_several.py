"""Three refrigerants and more: a wide class that is told as mixed and makes the verdict less sure of two."""

from dataclasses import replace

import numpy as np
import pytest

from service.verdict import several
from service.verdict.engine import VerdictEngine
from service.verdict.quadrature_grids import SEVERAL_RANGE, share_grid


@pytest.fixture(scope="module")
def without(curves, surfaces, prevalence):
    return VerdictEngine(curves, surfaces, {}, replace(prevalence, several_share=1e-9))


def test_it_is_told_as_mixed_and_names_no_partner(engine, at):
    found = engine.infer([at("R-22", factor=1.12)])
    assert found.several.sum() > 0.01
    assert found.by_state["mixed"].sum() == pytest.approx(
        found.mixtures.sum() + found.several.sum(), rel=1e-3
    )


def test_the_verdict_is_less_sure_of_two(engine, without, at):
    pair = [at("R-22", factor=1.12, temp_bias_k=0.1)]
    assert engine.infer(pair).mixtures.sum() < without.infer(pair).mixtures.sum()


def test_clean_readings_stay_clean(engine, without, at):
    pair = [at("R-410A")]
    assert abs(engine.infer(pair).contamination["none"] - without.infer(pair).contamination["none"]) < 0.01


def test_others_are_drawn_as_often_as_they_are_met():
    possible = np.ones((2, 4), dtype=bool)
    possible[0, 1] = False
    drawn = several.design(possible, np.array([8.0, 1.0, 1.0, 2.0]), share_grid())
    assert (drawn.first != drawn.second).all()
    assert not (drawn.first[0] == 1).any() and not (drawn.second[0] == 1).any()
    both = np.concatenate([drawn.first[1], drawn.second[1]])
    assert np.mean(both == 0) > np.mean(both == 3) > np.mean(both == 2)
    share = share_grid().nodes[drawn.share]
    assert share.min() > SEVERAL_RANGE[0] and share.max() < SEVERAL_RANGE[1]


def test_only_what_mixes_with_two_others_can_be_of_three():
    possible = np.array([[True, False, False], [True, True, False]])
    assert several.design(possible, np.ones(3), share_grid()).possible.tolist() == [False, True]
