import pytest

from service.verdict.contamination import _finding
from service.verdict.model import CylinderFacts
from service.verdict.settings import VerdictSettings

SETTINGS = VerdictSettings()
R22 = CylinderFacts(claimed_designation="R-22")


@pytest.mark.parametrize(
    ("joint", "finding"),
    [
        ({"none": 0.92, "air": 0.04, "shifted": 0.0, "mixed": 0.04}, "none-detected"),
        ({"none": 0.89, "air": 0.06, "shifted": 0.0, "mixed": 0.05}, "undecided"),
        ({"none": 0.02, "air": 0.70, "shifted": 0.0, "mixed": 0.28}, "air"),
        ({"none": 0.02, "air": 0.40, "shifted": 0.18, "mixed": 0.40}, "undecided"),
        ({"none": 0.20, "air": 0.10, "shifted": 0.0, "mixed": 0.70}, "undecided"),
        ({"none": 0.85, "air": 0.03, "shifted": 0.0, "mixed": 0.02}, "undecided"),
    ],
)
def test_thresholds(joint, finding):
    assert _finding(joint, SETTINGS) == finding


def test_clean_is_none_detected_with_limits(engine, at):
    what = engine.verdict([at("R-22")], R22).contamination
    assert what.finding == "none-detected"
    assert sum(what.probabilities.values()) == pytest.approx(1.0)
    assert what.detection_limits[0].contaminant == "air"


def test_air_is_estimated_with_an_interval(engine, at):
    facts = CylinderFacts(claimed_designation="R-22", water_volume_m3=0.02)
    what = engine.verdict([at("R-22", factor=1.08)], facts).contamination
    air = what.air
    assert air is not None
    truth = 0.08 * 1044e3
    assert air.partial_pressure_low_pa < truth < air.partial_pressure_high_pa
    assert air.excess_share == pytest.approx(air.vapour_volume_share - 0.015)
    assert 0 < air.mass_kg < 0.1
    assert 0 < air.dissolved_fraction < 0.9


def test_low_pressure_refrigerants_have_no_limit_for_air(engine, at):
    facts = CylinderFacts(claimed_designation="R-123")
    verdict = engine.verdict([at("R-123", factor=1.6, pressure_bias_pa=300.0)], facts)
    assert verdict.contamination.air is not None
    assert verdict.contamination.air.excess_share is None
    assert "1.5 %" not in " ".join(verdict.reasons)


def test_a_pressure_far_too_low_is_a_mixture_not_air(engine, at):
    what = engine.verdict(
        [at("R-410A", factor=0.85)], CylinderFacts(claimed_designation="R-410A")
    ).contamination
    assert what.finding == "mixed" or what.probabilities["mixed"] > 20 * what.probabilities["air"]
    assert any(p.designation == "R-410A" for p in what.partners)


def test_readings_that_fit_nothing_tell_nothing_of_the_state(engine, at):
    pairs = [at("R-22", 284.0, factor=1.0, temp_bias_k=0.0), at("R-123", 300.0, factor=0.1, temp_bias_k=0.0)]
    state = engine.verdict(pairs).contents_state
    assert state.finding == "undecided"
    assert sum(state.probabilities.values()) == pytest.approx(1.0)


def test_without_liquid_the_contamination_stays_open(engine, at):
    verdict = engine.verdict([at("R-22", factor=0.02)])
    assert verdict.contents_state.finding == "vapour-only"
    assert verdict.contamination.finding == "undecided"
    assert verdict.contamination.detection_limits == ()
