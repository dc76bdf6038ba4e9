"""Hazards of everything believable, and of what is believable only together."""

from dataclasses import replace

import pytest

from service.codes import Hazard
from service.cylinders.judgement.belief import BELIEVABLE, Belief, Content, Kind, claimed, vapour_drawn
from service.cylinders.judgement.hazards import hazards, with_what_burns
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.permits import Act
from service.cylinders.judgement.state import Incoming
from tests.cylinders.judgement.test_guard import GOOD, HOLDS_R22, TODAY
from tests.support.assessments import read

SEVERAL = {"R-32": 0.008, "R-290": 0.009, "R-1234yf": 0.005}


def doubtful(partners):
    kinds = {Kind.CLEAN: 0.9, Kind.MIXED: sum(partners.values())}
    belief = Belief((Content("R-22", kinds, partners),))
    return replace(HOLDS_R22, assessment=replace(read({"R-22": 0.97}), belief=belief))


@pytest.mark.parametrize(("share", "stands"), [(0.0199, False), (0.02, True)])
def test_a_hazard_is_one_from_two_percent_on(share, stands, knowledge):
    judged = judge(replace(HOLDS_R22, assessment=read({"R-22": 0.9, "R-290": share})), knowledge, on=TODAY)
    assert ([one.code for one in judged.hazards] == ["flammable"]) is stands


def test_several_that_burn_count_together_for_every_voice(knowledge):
    judged = judge(doubtful(SEVERAL), knowledge, on=TODAY)
    (hazard,) = judged.hazards
    assert hazard.probability == pytest.approx(0.022) and hazard.designations == ("R-290", "R-32", "R-1234yf")
    assert "flammable-not-marked" in {one.rule.code for one in judged.permits[Act.FILL].reasons}
    assert not judged.may_take(Incoming("R-22", 1.0)).allowed
    assert judged.permission.not_marked == pytest.approx(0.022) and not judged.permission.must_move
    assert judge(GOOD, knowledge, on=TODAY).permission.not_permitted == 0.0
    few = judge(doubtful({**SEVERAL, "R-290": 0.006}), knowledge, on=TODAY)
    assert few.hazards == () and few.may_take(Incoming("R-22", 1.0)).allowed


def test_what_comes_out_of_such_a_cylinder_is_no_more_welcome(knowledge):
    giving = judge(doubtful(SEVERAL), knowledge, on=TODAY)
    check = judge(GOOD, knowledge, on=TODAY).may_take(Incoming("R-22", 1.0, belief=giving.belief))
    assert "flammable-not-marked" in {one.rule.code for one in check.breaches}


def test_only_where_none_is_believable_alone_is_the_likeliest_added(knowledge):
    assert with_what_burns(doubtful(SEVERAL).assessment.belief, knowledge) == ("R-22", "R-290")
    alone = Belief((Content("R-290", {Kind.CLEAN: BELIEVABLE}), Content("R-32", {Kind.CLEAN: 0.01})))
    assert with_what_burns(alone, knowledge) == ("R-290",)
    assert with_what_burns(Belief(), knowledge) == ()


def test_the_four_likeliest_are_named(knowledge):
    shares = {"R-32": 0.2, "R-454B": 0.19, "R-290": 0.18, "R-1234yf": 0.17, "R-152a": 0.16}
    believed = read(shares).belief
    (burns,) = [one for one in hazards(GOOD, believed, knowledge) if one.code == Hazard.FLAMMABLE]
    assert burns.designations == ("R-32", "R-454B", "R-290", "R-1234yf")
    assert burns.probability == pytest.approx(0.9)


def test_what_burns_counts_from_two_percent_on_together_too(knowledge):
    partners = {"R-32": 0.0125, "R-290": 0.0075}
    assert sum(partners.values()) == BELIEVABLE
    exactly = Belief((Content("R-22", {Kind.CLEAN: 0.9, Kind.MIXED: BELIEVABLE}, partners),))
    assert with_what_burns(exactly, knowledge) == ("R-22", "R-32")


def test_liquid_full_and_unknown(knowledge):
    def codes(**how):
        return [
            one.code for one in judge(replace(HOLDS_R22, assessment=read(**how)), knowledge, on=TODAY).hazards
        ]

    assert codes(shares={"R-22": 0.97}, liquid_full=0.0199) == []
    assert codes(shares={"R-22": 0.97}, liquid_full=0.02) == ["liquid-full"]
    assert codes(shares={"R-22": 0.97}, contents="liquid-full") == ["liquid-full"]
    assert codes(shares={"R-22": 0.97}, contents="liquid-full", carried=True) == []
    assert codes(shares={"R-22": 0.51}) == [] and codes(shares={"R-22": 0.5}) == ["unknown"]


def test_every_hazard_has_its_likelihood(knowledge):
    judged = judge(replace(HOLDS_R22, assessment=read({"R-290": 0.5, "R-22": 0.5})), knowledge, on=TODAY)
    assert judged.hazard("flammable").likely and judged.hazard("toxic") is None
    assert (
        not judge(replace(HOLDS_R22, assessment=read({"R-290": 0.49, "R-22": 0.5})), knowledge, on=TODAY)
        .hazard("flammable")
        .likely
    )


@pytest.mark.parametrize("labels", [["R-454B"], ["R-454B", "R-407C"], ["R-407C", "R-454B", "R-22"]])
def test_a_second_label_takes_nothing_from_what_the_first_one_brings(labels, knowledge):
    (burns,) = [one for one in hazards(GOOD, claimed(labels, 0.9), knowledge) if one.code == Hazard.FLAMMABLE]
    assert burns.probability == pytest.approx(0.9) and burns.likely
    assert burns.designations == ("R-454B",)


def test_labels_of_what_does_not_burn_bring_nothing(knowledge):
    assert hazards(GOOD, claimed(["R-407C", "R-22"], 0.9), knowledge) == ()


def test_an_act_takes_nothing_from_the_worst_of_several_labels(knowledge):
    drawn = vapour_drawn(claimed(["R-454B", "R-407C"], 0.9), 0.3, lambda _: True)
    (burns,) = [one for one in hazards(GOOD, drawn, knowledge) if one.code == Hazard.FLAMMABLE]
    assert burns.probability == pytest.approx(0.9)
