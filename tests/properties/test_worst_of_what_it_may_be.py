"""What is in doubt is judged by the worst of what it may be: doubt never permits what one of its parts forbids.

Random cylinders, judged once with everything that they may hold and once with each of it alone.
"""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.judgement.belief import LIKELY
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.permits import Act
from service.cylinders.judgement.state import CylinderState, Incoming
from service.cylinders.markings import read_marks
from service.cylinders.requalification import Dates
from service.cylinders.requalification_stamp import Stamp
from service.operations.support.rule_data import knowledge_of
from service.store.artefacts import load_catalogue, load_curves
from tests.cylinders.judgement.test_guard import EVACUATED
from tests.support.assessments import read

TODAY = date(2026, 11, 25)
NAMES = ("R-22", "R-32", "R-134a", "R-290", "R-404A", "R-410A", "R-454B", "R-600a", "R-717", "R-1234yf")
MARKS = ("DOT-4BA400", "DOT-4BW260", "DOT-4BA350", "DOT-39 NRC 400/500", "DOT-3AA2400", "??")
ALLOWED = (Act.FILL, Act.DRAW_LIQUID, Act.DRAW_VAPOR)
TAKEN_AWAY = (Act.CARRY, Act.RECLAIM, Act.DESTRUCTION)
"""A cylinder has to get to where it is emptied or analyzed: only what is likely stands against these."""


@pytest.fixture(scope="module")
def knowledge():
    return knowledge_of(load_catalogue(), load_curves())


@st.composite
def cylinders(draw):
    mass = draw(st.floats(0.05, 24.0))
    return CylinderState(
        "HM-1",
        read_marks(draw(st.sampled_from(MARKS))),
        water_capacity_kg=draw(st.sampled_from((None, 11.9, 21.6, 55.3))),
        tare_kg=draw(st.sampled_from((None, 12.4))),
        dates=Dates(draw(st.sampled_from((None, Stamp(2020, 1), Stamp(2024, 6))))),
        contents=EVACUATED.put_in("R-22", mass),
        flammable_marked=draw(st.booleans()),
        holds=draw(st.sampled_from(((), ("dented",)))),
        inspected_on=TODAY,
        vacuum_recorded=True,
    )


@st.composite
def doubts(draw):
    names = draw(st.lists(st.sampled_from(NAMES), min_size=2, max_size=4, unique=True))
    weights = [draw(st.floats(0.06, 1.0)) for _ in names]
    return {name: weight / sum(weights) for name, weight in zip(names, weights, strict=True)}


def alone(state, name):
    return replace(state, assessment=read({name: 0.97}))


@given(state=cylinders(), shares=doubts(), mass_kg=st.floats(0.1, 12.0), incoming=st.sampled_from(NAMES))
def test_doubt_never_permits_what_one_of_its_parts_forbids(knowledge, state, shares, mass_kg, incoming):
    doubtful = judge(replace(state, assessment=read(shares)), knowledge, on=TODAY)
    for name in shares:
        certain = judge(alone(state, name), knowledge, on=TODAY)
        for act in ALLOWED:
            assert certain.permits[act].allowed or not doubtful.permits[act].allowed, (act, name)
        for act in TAKEN_AWAY if shares[name] >= LIKELY else ():
            assert certain.permits[act].allowed or not doubtful.permits[act].allowed, (act, name)
        there = Incoming(incoming, mass_kg)
        assert certain.may_take(there).allowed or not doubtful.may_take(there).allowed, name
        if certain.filling.limit_kg is not None:
            assert doubtful.filling.limit_kg is not None
            assert doubtful.filling.limit_kg <= certain.filling.limit_kg + 1e-9, name
        assert {one.code for one in certain.hazards} <= {one.code for one in doubtful.hazards}, name
        full_at = certain.filling.liquid_full_temp_k
        if full_at is not None:
            assert doubtful.filling.liquid_full_temp_k <= full_at + 0.05, name
        if certain.filling.over:
            assert doubtful.filling.over, name


@given(state=cylinders(), shares=doubts(), mass_kg=st.floats(0.1, 12.0), into=cylinders())
def test_what_comes_from_a_doubtful_cylinder_is_no_more_welcome_than_its_worst_part(
    knowledge, state, shares, mass_kg, into
):
    """The receiving cylinder is empty and evacuated: only what comes decides."""
    into = replace(into, contents=EVACUATED, holds=())
    doubtful = judge(replace(state, assessment=read(shares)), knowledge, on=TODAY)
    receiving = judge(into, knowledge, on=TODAY)
    for name in shares:
        certain = judge(alone(state, name), knowledge, on=TODAY)
        taken = [
            receiving.may_take(Incoming(None, mass_kg, belief=one.belief)) for one in (certain, doubtful)
        ]
        assert taken[0].allowed or not taken[1].allowed, name


@given(state=cylinders(), shares=doubts())
def test_only_what_is_decided_is_named_without_a_second_name(knowledge, state, shares):
    judged = judge(replace(state, assessment=read(shares)), knowledge, on=TODAY)
    if max(shares.values()) < 0.9:
        assert len([one for one in judged.belief.believable if one in judged.name.text]) != 1
