from service.verdict import next_measurement
from service.verdict.model import CylinderFacts


def test_a_settled_cylinder_needs_nothing_more(engine, at):
    following = engine.verdict([at("R-22", temp_bias_k=0.05, pressure_bias_pa=200.0)]).next_measurement
    assert following.code == "none"
    assert following.expected_information_bits < 0.05


def test_an_open_question_gets_a_measurement_that_tells(engine, at):
    following = engine.verdict([at("R-410A", factor=0.985, temp_bias_k=1.5)]).next_measurement
    assert following.code != "none"
    assert following.expected_information_bits > 0.05
    assert following.alternatives


def test_repeating_tells_less_than_something_new(engine, at):
    following = engine.verdict([at("R-410A", factor=0.985, temp_bias_k=1.5)]).next_measurement
    repeat = [x.expected_information_bits for x in following.alternatives if x.code == "repeat"]
    assert all(bits < following.expected_information_bits for bits in repeat)


def test_nothing_is_warmed_above_45_c(engine, at):
    for designation in ("R-22", "R-410A", "R-134a"):
        for factor in (0.95, 1.0, 1.05):
            following = engine.verdict([at(designation, factor=factor, temp_bias_k=1.0)]).next_measurement
            assert following.temp_k is None or following.temp_k <= 318.15


def test_a_cylinder_that_may_be_full_is_never_warmed(engine, at):
    verdict = engine.verdict([at("R-22", factor=3.0)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.contents_state.probabilities["liquid-full"] > 0.1
    assert verdict.next_measurement.code != "warm"


def test_without_liquid_it_is_weighed(engine, at):
    assert engine.verdict([at("R-22", factor=0.02)]).next_measurement.code == "weigh"


def test_what_lukewarm_water_does_not_reach_takes_a_bath_with_a_thermometer():
    assert "lukewarm water" in next_measurement._bring_to(311.15, 297.15)[1]
    code, action = next_measurement._bring_to(318.15, 297.15)
    assert code == "warm"
    assert "water bath with a thermometer in it, never above 50 °C" in action
    assert "lukewarm" not in action
