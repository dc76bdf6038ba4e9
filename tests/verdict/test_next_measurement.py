from dataclasses import replace

from service.verdict import next_measurement
from service.verdict.measurement_options import BY_INSTRUMENT
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts
from service.verdict.observations import LiquidLevel, Observations


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


def test_a_level_parts_a_hydrocarbon_from_what_reads_like_it(engine, at):
    """Half the density of the others: the level beside the weight tells more for less than an analyzer."""
    facts = CylinderFacts(water_volume_m3=0.0216, net_mass_kg=4.0)
    following = engine.verdict([at("R-290", temp_bias_k=1.5)], facts).next_measurement
    codes = [following.code, *(other.code for other in following.alternatives)]
    assert "liquid-level" in codes
    seen = replace(facts, observations=Observations(liquid=LiquidLevel(0.4, 0.05)))
    after = engine.verdict([at("R-290", temp_bias_k=1.5)], seen).next_measurement
    assert "liquid-level" not in (after.code, *(other.code for other in after.alternatives))


def test_what_is_asked_for_saves_most_for_what_it_takes(engine, at):
    efforts = engine.settings.efforts
    for designation, factor in (("R-410A", 0.985), ("R-22", 1.02), ("R-290", 1.0)):
        following = engine.verdict([at(designation, factor=factor, temp_bias_k=1.5)]).next_measurement
        worth = following.expected_cost_saved - efforts[following.code]
        assert all(worth >= x.expected_cost_saved - efforts[x.code] - 1e-3 for x in following.alternatives)
        assert all(
            x.expected_cost_saved > efforts[x.code]
            for x in (following, *following.alternatives)
            if x.code in BY_INSTRUMENT
        )


def test_an_instrument_that_does_not_pay_is_not_asked_for(engine, at):
    dear = replace(
        engine.settings, efforts={**engine.settings.efforts, "analyser": 100.0, "combustible-gas": 100.0}
    )
    pairs = condense([at("R-410A", factor=0.985, temp_bias_k=1.5)])
    found = engine.infer(pairs)
    asked = next_measurement.choose(
        found, engine.space, pairs, CylinderFacts(), engine.observed, dear, identified=False
    )
    assert not {asked.code, *(other.code for other in asked.alternatives)} & BY_INSTRUMENT
