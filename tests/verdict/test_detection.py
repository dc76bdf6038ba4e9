import numpy as np
import pytest

from service.verdict import detection, detection_test
from service.verdict.evidence import build
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts

NOTHING = CylinderFacts()


def screen(engine, designation, *pairs, facts=NOTHING):
    evidence = build(condense(pairs))
    index = engine.space.designations.index(designation)
    return evidence, detection_test.screen(engine.space, evidence, engine.fill.weights(facts), index)


def test_a_pure_refrigerant_needs_3_3_standard_deviations(engine, at):
    _, test = screen(engine, "R-22", at("R-22"))
    threshold, needed = test.thresholds(np.array([[0.01], [-0.01]]))
    assert threshold == pytest.approx(1.695, abs=0.01)
    assert needed == pytest.approx(3.34, abs=0.02)


def test_an_unknown_fill_costs_a_zeotrope_its_sight(engine, at):
    _, unknown = screen(engine, "R-407C", at("R-407C"))
    half = CylinderFacts(water_volume_m3=0.02, net_mass_kg=0.02 * (0.5 * 1134 + 0.5 * 43.8))
    _, known = screen(engine, "R-407C", at("R-407C"), facts=half)
    low = np.array([[-0.01]])
    assert unknown.thresholds(low)[1][0] > known.thresholds(low)[1][0] + 1


def test_air_at_the_limit_shifts_by_what_is_needed(engine, at):
    evidence, test = screen(engine, "R-22", at("R-22"))
    limit = detection.air_limit(engine.space, evidence, test).partial_pressure_pa
    change = detection.air_change(engine.space, evidence, test.designation, np.array([limit]))
    assert test.shift(change)[0] == pytest.approx(test.thresholds(change)[1][0], rel=0.02)


def test_better_instruments_see_less(engine, at):
    def limits(**instrument):
        found = engine.verdict([at("R-22", **instrument)]).contamination.detection_limits
        return {x.contaminant: x.mass_fraction or x.partial_pressure_pa for x in found}

    fine, coarse = limits(temp_bias_k=0.1), limits(temp_bias_k=0.6)
    assert all(fine[name] < coarse[name] for name in ("air", "R-410A", "R-134a"))


def test_r32_in_r410a_cannot_be_seen_and_is_said_so(engine, at):
    found = engine.verdict([at("R-410A")]).contamination.detection_limits
    r32 = next(x for x in found if x.contaminant == "R-32")
    assert r32.mass_fraction is None
    assert "cannot show R-32" in r32.note


def test_a_maximum_of_pressure_is_said(engine, at):
    sharp = {"temp_bias_k": 0.02, "pressure_bias_pa": 100.0, "gain_bias": 0.0, "temp_noise_k": 0.0}
    found = engine.verdict([at("R-134a", **sharp)]).contamination.detection_limits
    yf = next(x for x in found if x.contaminant == "R-1234yf")
    assert yf.mass_fraction < 0.1


def test_two_branches_are_told_apart_from_a_rise():
    share = np.linspace(0, 0.5, 6)
    up_and_down = np.array([0.0, 4.0, 7.0, 6.0, 4.5, 2.0])

    def words(course, end):
        return detection._two_branches(
            "R-12", "R-134a", share, np.array(course) / 3.3, np.array([*course, end])
        )

    assert "cannot be seen again" in words(up_and_down, 0.0)
    assert "either side" in words([0.0, 4.0, 9.0, 8.0, 7.0, 6.0], 5.0)
    assert "mostly R-12" in words([0.0, 4.0, 6.0, 8.0, 9.0, 9.5], -1.0)
    assert words([0.0, 4.0, 6.0, 8.0, 9.0, 9.5], 20.0) is None


def test_crossings_lie_between_the_nodes():
    amounts = np.array([0.0, 1.0, 2.0, 3.0])
    shown = np.array([[0.0, 0.5, 1.5, 2.0], [0.0, 0.2, 0.3, 0.4], [0.0, 0.9, 1.8, 3.0]])
    signed = np.array([[0.0, 1.0, 3.0, 4.0], [0.0, 1.0, 2.0, 3.0], [0.0, -1.0, 2.0, 4.0]])
    found = detection._crossings(amounts, shown, signed)
    assert found[0] == pytest.approx(1.5)
    assert np.isnan(found[1])
    assert found[2] == pytest.approx(1 + 1 / 1.8)
