import pytest

from service.verdict.model import CylinderFacts


def test_a_reading_on_a_lonely_curve_identifies(engine, at):
    who = engine.verdict([at("R-22")]).identity
    assert who.finding == "identified"
    assert who.candidates[0].designation == "R-22"
    assert who.candidates[0].temp_difference_k == pytest.approx(0.0, abs=1e-3)


def test_the_difference_is_what_the_reading_is_off(engine, at):
    low = at("R-22", factor=0.97)
    first = engine.verdict([low], CylinderFacts(claimed_designation="R-22")).identity.candidates[0]
    assert first.designation == "R-22"
    assert 0.9 < first.temp_difference_k < 1.4
    assert first.saturation_temp_k == pytest.approx(low.temp_k - first.temp_difference_k)


def test_neighbours_are_listed_until_they_hold_95_percent(engine, at):
    who = engine.verdict([at("R-410A", factor=0.985, temp_bias_k=1.5)]).identity
    assert who.finding == "narrowed"
    assert {"R-410A", "R-454B"} <= {c.designation for c in who.candidates}
    assert sum(c.probability for c in who.candidates) >= 0.95 * (1 - 0.01)


def test_a_label_alone_identifies_nothing(engine, at):
    coarse = at("R-22", temp_bias_k=12.0, pressure_bias_pa=3e5)
    who = engine.verdict([coarse], CylinderFacts(claimed_designation="R-22", claim_reliability=0.98)).identity
    assert who.finding == "narrowed"


def test_readings_that_fit_nothing_are_unrecognised(engine, at):
    who = engine.verdict([at("R-22", 290.0), at("R-123", 305.0)]).identity
    assert who.finding == "unrecognised"
    assert who.candidates == ()
