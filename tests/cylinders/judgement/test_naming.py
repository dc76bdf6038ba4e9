"""What a name rests on: a check agrees with a label only where it finds what the label says, alone."""

from dataclasses import replace

import pytest

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
