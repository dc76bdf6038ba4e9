"""What a name rests on: a check agrees with a label only where it finds what the label says, alone."""

from dataclasses import replace

import pytest

from service.cylinders.judgement.belief import Belief, Content, Kind
from service.cylinders.judgement.naming import name
from service.cylinders.judgement.state import believe
from tests.cylinders.judgement.test_guard import HOLDS_R22
from tests.support.assessments import read

AGREES = "label, P-T check agrees"


def ground(shares, **how):
    state = replace(HOLDS_R22, label="R-22", claims=("R-22",), assessment=read(shares, **how))
    return name(state, believe(state)).ground


@pytest.mark.parametrize("kind", ["clean", "undetermined"])
def test_a_check_that_finds_what_the_label_says_agrees(kind):
    assert ground({"R-22": 0.97}, kind=kind) == AGREES


@pytest.mark.parametrize("kind", ["air", "shifted", "mixed"])
def test_a_check_that_finds_something_with_it_does_not_agree(kind):
    assert ground({"R-22": 0.97}, kind=kind) == "by P-T check"


def test_a_check_that_finds_another_refrigerant_likelier_does_not_agree():
    assert ground({"R-407C": 0.6, "R-22": 0.35}) == "by P-T check"


def named(shares, **how):
    state = replace(HOLDS_R22, assessment=read(shares, **how))
    return name(state, believe(state))


def test_from_half_on_it_has_a_name_and_below_it_has_several():
    half = named({"R-22": 0.5, "R-407C": 0.49})
    assert (half.form, half.designation, half.text) == ("tentative", "R-22", "R-22 or R-407C")
    less = named({"R-22": 0.499, "R-407C": 0.499})
    assert (less.form, less.designation) == ("unknown", None)


def test_what_nothing_on_file_explains_is_unknown_from_half_on():
    unknown = named({"R-22": 0.5})
    assert (unknown.form, unknown.text, unknown.instead) == ("unknown", "unknown", ("R-22",))


def test_four_are_listed_and_the_others_counted():
    shares = {"R-22": 0.3, "R-407C": 0.2, "R-12": 0.15, "R-134a": 0.12, "R-410A": 0.1, "R-32": 0.08}
    assert named(shares).text == "R-22, R-407C, R-12, R-134a or one of 2 more"


def test_what_is_no_more_than_likely_is_said_to_be_something_else_perhaps():
    alone = named({"R-22": 0.7})
    assert (alone.form, alone.text) == ("tentative", "R-22 or something else")


def test_from_two_percent_on_another_name_stands_beside_it():
    assert named({"R-22": 0.89, "R-407C": 0.02}).instead == ("R-407C",)
    assert named({"R-22": 0.89, "R-407C": 0.0199}).instead == ()


def test_what_is_believable_only_with_something_in_it_is_never_named_bare():
    def beside(alone):
        kinds = {Kind.CLEAN: alone, Kind.AIR: 0.2 - alone}
        found = Belief((Content("R-407C", {Kind.CLEAN: 0.7}), Content("R-22", kinds)))
        state = replace(HOLDS_R22, assessment=replace(read({"R-407C": 0.7}), belief=found))
        return name(state, believe(state)).instead

    assert beside(0.02) == ("R-22",)
    assert beside(0.0199) == ("R-22 with air",)
