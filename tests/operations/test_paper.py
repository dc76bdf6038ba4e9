"""Labels and shipping descriptions name no refrigerant that is in doubt."""

import pytest

from service.operations import care, cylinders, holds, pairs, paper
from service.operations.care import Entry
from service.operations.pairs import NewPair
from service.operations.paper import Wish
from service.operations.support import beliefs, judgements
from service.operations.support.atmosphere import PressureReading
from service.paperwork import shipping
from service.verdict.model import CylinderFacts, LookAlikeGroup, Pair, ReadsTheSame
from tests.support.fleet import GOOD, delivered, evacuate, put_in, take_out

PAIR = Pair(297.95, 1.04e6, 0.3, 5e3)
WISH = Wish("https://heelmark.example", "si")


def printed(services, actor, serial="HM-1"):
    found = paper.of(services, actor, serial, WISH)
    return found.label, found.shipping


def measured(services, actor, serial="HM-1"):
    pairs.record(services, actor, NewPair(297.95, PressureReading(absolute_pa=1.04e6), serial=serial))


def test_recovered_by_the_record(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    label, described = printed(services, actor)
    assert (label.headline, label.kind, label.alert) == ("R-22", "recovered, by record", False)
    assert (label.net_kg, label.gross_kg) == (pytest.approx(6.0), pytest.approx(18.4))
    assert label.limit_gross_kg == pytest.approx(12.4 + 20.6, abs=0.1)
    assert label.url == "https://heelmark.example/cylinders/HM-1" and label.owner == "home"
    assert described.text == "UN1018, Refrigerant gas R 22, 2.2; 1 cylinder, 6.00 kg net"


def test_a_claim_that_the_verdict_contradicts_is_named_neither_on_the_label_nor_on_the_paper(
    services, actor, judge
):
    cylinders.register(
        services, actor, "HM-1", {**GOOD, "claimed_designation": "R-22", "gross_mass_kg": 18.0}
    )
    judge.designation = "R-404A"
    measured(services, actor)
    label, described = printed(services, actor)
    assert (label.headline, label.alert, label.safety_class) == ("R-404A", True, "A1")
    assert label.kind == "by P-T check; the old label is ruled out"
    assert described.un_number == "UN3337" and "R 22" not in described.text


def test_a_label_that_was_measured_is_more_than_a_label(services, actor):
    cylinders.register(
        services, actor, "HM-1", {**GOOD, "claimed_designation": "R-22", "gross_mass_kg": 18.0}
    )
    assert printed(services, actor)[0].kind == "by label only"
    measured(services, actor)
    label, _ = printed(services, actor)
    assert (label.headline, label.kind) == ("R-22", "label, P-T check agrees")


def test_a_label_that_the_readings_do_not_part_from_others_says_so(services, actor, judge):
    cylinders.register(services, actor, "HM-1", {**GOOD, "claimed_designation": "R-22"})
    judge.identity, judge.besides = "narrowed", ("R-407C",)
    measured(services, actor)
    label, described = printed(services, actor)
    assert (label.headline, label.kind) == ("R-22 or R-407C", "tentative: P-T check cannot tell them apart")
    assert described.un_number == "UN1078" and shipping.TENTATIVE in described.notes


def test_what_may_be_flammable_is_neither_labelled_nor_shipped_as_if_it_were_not(services, actor, judge):
    cylinders.register(services, actor, "HM-1", {**GOOD, "claimed_designation": "R-410A"})
    judge.designation, judge.identity, judge.besides = "R-410A", "narrowed", ("R-454B",)
    measured(services, actor)
    label, described = printed(services, actor)
    assert (label.hazards, label.safety_class) == ("flammable", None)
    assert (label.hazard_division, label.alert) == ("2.1", True)
    assert described.hazard_division == "2.1" and shipping.TENTATIVE in described.notes
    judge.identity = "identified"
    measured(services, actor)
    label = printed(services, actor)[0]
    assert (label.safety_class, label.hazards) == ("A1", "may be flammable")  # R-454B still has 2 %
    judge.besides = ()
    measured(services, actor)
    label, described = printed(services, actor)
    assert (label.safety_class, label.hazards) == ("A1", "")
    assert (label.hazard_division, described.hazard_division) == ("2.2", "2.2")


def test_what_reads_the_same_is_on_the_label_until_evidence_removes_it(services, actor, judge):
    cylinders.register(services, actor, "HM-1", {**GOOD, "claimed_designation": "R-22"})
    same = tuple(LookAlikeGroup(hazard, 1, (), ("laboratory",)) for hazard in ("toxic", "highly-flammable"))
    judge.reads_the_same = ReadsTheSame("R-22", True, same)
    measured(services, actor)
    assert printed(services, actor)[0].hazards == "not excluded: toxic, flammable"
    assert judgements.of_serial(services, actor, "HM-1").judgement.not_excluded == ("toxic", "flammable")
    before = beliefs.assessment_of(judge.verdict([PAIR], CylinderFacts()))
    assert beliefs.after_act(before, before.belief).not_excluded == ("toxic", "flammable")
    assert beliefs.read_assessment(beliefs.assessment_document(before)) == before
    judge.reads_the_same = ReadsTheSame("R-22", False, same)
    measured(services, actor)
    assert printed(services, actor)[0].hazards == ""


def test_an_inherited_one_is_named_by_its_verdict(services, actor, judge):
    cylinders.register(services, actor, "HM-1", {**GOOD, "gross_mass_kg": 18.0})
    assert printed(services, actor)[0].headline == "UNKNOWN" and printed(services, actor)[1].text is None
    measured(services, actor)
    label, described = printed(services, actor)
    assert (label.headline, label.kind) == ("R-22", "by P-T check")
    assert described.un_number == "UN1018"
    judge.identity = "narrowed"
    measured(services, actor)
    label, described = printed(services, actor)
    assert label.headline == "R-22 or something else" and shipping.TENTATIVE in described.notes


def test_what_the_verdict_calls_mixed_is_not_shipped_under_one_name(services, actor, judge):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    judge.contamination = "mixed"
    measured(services, actor)
    label, described = printed(services, actor)
    assert label.headline == "MIXED" and label.alert and label.limit_gross_kg is None
    assert described.un_number == "UN1078" and shipping.TENTATIVE in described.notes


def test_mixed_by_the_record(services, actor):
    delivered(services, actor, flammable_marked=True)
    put_in(services, actor, 6.0)
    put_in(services, actor, 2.0, "R-32", override_reason="collecting for destruction")
    label, described = printed(services, actor)
    assert label.headline == "MIXED" and "25.0\u00a0%\u00a0R-32" in label.kind
    assert (described.un_number, described.hazard_division) == ("UN3161", "2.1")
    assert shipping.TENTATIVE not in described.notes


def test_emptied_and_evacuated(services, actor):
    delivered(services, actor)
    assert printed(services, actor)[0].headline == "EMPTY"
    put_in(services, actor, 6.0)
    take_out(services, actor, 6.0)
    label, described = printed(services, actor)
    assert label.kind == "residue of R-22, not evacuated"
    assert described.text.startswith("RESIDUE: Last Contained, UN1018")
    evacuate(services, actor)
    assert printed(services, actor)[1].text == "Empty cylinder, evacuated"


def test_a_hold_cannot_be_overlooked(services, actor):
    delivered(services, actor)
    put_in(services, actor, 6.0)
    holds.place(services, actor, "HM-1", "dent at the foot ring")
    label, _ = printed(services, actor)
    assert (label.headline, label.kind, label.alert) == ("R-22", "ON HOLD: dent at the foot ring", True)


def test_the_label_says_until_when_it_may_be_filled(services, actor):
    delivered(services, actor)
    assert printed(services, actor)[0].requalify_by.isoformat() == "2029-06-30"
    care.record(services, actor, Entry("HM-1", "requalification", True, {"stamp": "5 A123 26"}))
    assert printed(services, actor)[0].requalify_by.isoformat() == "2031-05-31"
    care.record(services, actor, Entry("HM-1", "requalification", False, {}))
    assert cylinders.read(services, actor, "HM-1").standing == "condemned"
