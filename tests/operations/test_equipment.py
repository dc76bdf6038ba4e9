"""The reading of equipment at rest, as it is weighed when it is taken and when it is read back."""

from dataclasses import asdict
from types import SimpleNamespace

from service.operations import equipment
from service.operations.recovery_turns import at_rest_of
from service.operations.support.atmosphere import PressureReading
from service.operations.support.readings import Reading
from service.verdict.reading_conditions import Conditions, temperature_uncertainty_k

JUST_STOPPED = Conditions(in_sun=False, at_rest_min=30.0, clamp_insulated=True)
READ = Reading(297.95, PressureReading(absolute_pa=1.04e6), conditions=JUST_STOPPED)


def test_whoever_reads_it_it_counts_as_equipments(services, judge):
    equipment.judge(services, READ, "R-22")
    [(pairs, facts)] = judge.asked
    usual_k = services.policy.instruments.temperature_bias_k
    assert facts.claimed_designation == "R-22"
    assert pairs[0].temp_bias_k > 4.0 > temperature_uncertainty_k(usual_k, JUST_STOPPED)


def test_what_a_recovery_kept_is_weighed_as_when_it_was_read(services, judge):
    again = at_rest_of(SimpleNamespace(standing=asdict(READ)))
    assert again == READ
    equipment.judge(services, READ, "R-22")
    equipment.judge(services, again, "R-22")
    assert judge.asked[0] == judge.asked[1]


def test_a_recovery_begun_before_conditions_were_asked_is_read_too():
    kept = asdict(READ)
    del kept["conditions"]
    assert at_rest_of(SimpleNamespace(standing=kept)).conditions == Conditions()
