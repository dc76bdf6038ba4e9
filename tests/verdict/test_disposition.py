import dataclasses

import pytest

from service.verdict import disposition
from service.verdict.model import CylinderFacts
from service.verdict.settings import WORLDS, VerdictSettings


def test_every_choice_has_a_cost_in_every_world():
    for row in VerdictSettings().costs.values():
        assert tuple(row) == WORLDS


def test_passing_a_contaminated_cylinder_is_far_dearer_than_measuring():
    costs = VerdictSettings().costs
    assert (
        min(costs["keep"][world] for world in ("air", "shifted", "mixed"))
        > 5 * costs["measure-again"]["clean"]
    )


def test_a_clean_cylinder_is_kept(engine, at):
    verdict = engine.verdict([at("R-22", temp_bias_k=0.1)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.disposition.code == "keep"


def test_worlds_sum_to_one(engine, at):
    chances = disposition.worlds(engine.infer([at("R-22", factor=1.04)]))
    assert sum(chances.values()) == pytest.approx(1.0, abs=1e-4)


def test_nothing_is_measured_for_nothing(engine, at):
    found = engine.infer([at("R-22", factor=1.05)])
    chosen = disposition.choose(found, engine.settings, more_to_learn=False)
    assert chosen.code != "measure-again"
    assert "measure-again" not in chosen.expected_costs


def test_a_liquid_full_cylinder_is_held_whatever_it_costs(engine, at):
    verdict = engine.verdict([at("R-22", factor=4.0)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.disposition.code == "hold"
    assert "full of liquid" in verdict.disposition.text
    assert verdict.reasons[0].startswith("DANGER")


def test_costs_are_settings(engine, at):
    dear = {code: dict(row) for code, row in engine.settings.costs.items()}
    dear["keep"] = dict.fromkeys(WORLDS, 1000000.0)
    settings = dataclasses.replace(engine.settings, costs=dear)
    found = engine.infer([at("R-22")])
    assert disposition.choose(found, settings, more_to_learn=True).code != "keep"
