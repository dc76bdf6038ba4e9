"""The posterior as it is kept: nothing of weight is lost, and it goes back in as the next prior."""

import pytest

from service.verdict.believed import LEAST
from service.verdict.model import CylinderFacts, Pair

READ = Pair(295.4, 1_470_600.0, 0.15, 3000.0, 0.3, 3000.0, atmosphere_bias_pa=1000.0)
LABELLED = CylinderFacts(claimed_designation="R-410A")


def test_it_agrees_with_what_is_stated_beside_it(engine):
    verdict = engine.verdict([READ], LABELLED)
    kept = {one.designation: one for one in verdict.believed}
    for candidate in verdict.identity.candidates:
        assert kept[candidate.designation].probability == pytest.approx(candidate.probability, abs=6 * LEAST)
    mixed = sum(one.states.get("mixed", 0.0) for one in verdict.believed)
    of_three = float(engine.infer([READ], LABELLED).several.sum())
    named = sum(sum(one.partners.values()) for one in verdict.believed)
    assert mixed == pytest.approx(named + of_three, abs=0.03)


def test_nothing_of_weight_is_left_out(engine):
    found = engine.infer([READ])
    verdict = engine.verdict([READ])
    kept = sum(one.probability for one in verdict.believed)
    assert kept + found.something_else == pytest.approx(1.0, abs=0.05)
    assert [one.probability for one in verdict.believed] == sorted(
        (one.probability for one in verdict.believed), reverse=True
    )


def test_a_second_reading_like_the_first_does_not_forget_it(engine):
    first = engine.verdict([READ], LABELLED)
    again = engine.verdict([READ], CylinderFacts(carried=first.believed))
    doubted = {one.designation: one for one in again.believed}["R-454B"]
    assert doubted.probability > {one.designation: one for one in first.believed}["R-454B"].probability
