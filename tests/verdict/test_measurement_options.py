from dataclasses import replace

from service.verdict import measurement_options as options
from service.verdict.measurement_options import BY_INSTRUMENT, CODES
from service.verdict.model import CylinderFacts
from service.verdict.observations import Composition, LiquidLevel, Observations
from service.verdict.settings import VerdictSettings

KNOWN = CylinderFacts(water_volume_m3=0.02, net_mass_kg=5.0)
ALL_SEEN = Observations(
    combustible_gas=False,
    compositions=(Composition({"R-22": 1.0}, 0.02, 0.95),),
    liquid=LiquidLevel(0.3, 0.05),
)


def codes(facts, density_known=False):
    return [one.code for one in options.of_instruments(facts, density_known=density_known)]


def test_what_was_measured_is_not_asked_for_again():
    assert codes(replace(KNOWN, observations=ALL_SEEN), density_known=True) == []
    assert codes(CylinderFacts(water_volume_m3=0.02)) == ["weigh", "combustible-gas", "analyser"]


def test_a_level_is_asked_for_only_where_it_tells_a_density():
    assert "liquid-level" in codes(KNOWN, density_known=True)
    assert "liquid-level" not in codes(CylinderFacts())


def test_every_code_is_listed_and_has_its_effort(at):
    pairs = options.of_pairs([at("R-22")], VerdictSettings(), may_be_full=False)
    given = {one.code for one in pairs} | set(codes(KNOWN, density_known=True)) | {"weigh", "none"}
    assert given == set(CODES)
    assert set(VerdictSettings().efforts) == set(CODES) - {"none"}
    assert set(CODES) > BY_INSTRUMENT


def test_a_cylinder_that_may_be_full_is_cooled_at_most(at):
    read = options.of_pairs([at("R-22")], VerdictSettings(), may_be_full=True)
    assert {one.code for one in read} == {"repeat", "cool", "better-thermometer", "zero-gauge"}
    assert max(one.temp_k for one in read) == 298.15


def test_what_lukewarm_water_does_not_reach_takes_a_bath_with_a_thermometer():
    assert "lukewarm water" in options._bring_to(311.15, 297.15)[1]
    code, action = options._bring_to(318.15, 297.15)
    assert code == "warm"
    assert "water bath with a thermometer in it, never above 50 °C" in action
    assert "lukewarm" not in action


def test_nothing_is_vented_for_a_detector():
    assert "Do not vent" in options.COMBUSTIBLE_GAS.action
