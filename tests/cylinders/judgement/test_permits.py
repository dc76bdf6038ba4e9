"""What may be done: each act allowed, or every reason against it."""

from dataclasses import replace

import pytest

from service.cylinders.contents import Contents
from service.cylinders.judgement.causes import Course
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.permits import FOUND_KG, Act
from service.cylinders.judgement.state import Incoming
from service.cylinders.markings import read_marks
from service.cylinders.requalification import Dates
from service.cylinders.requalification_stamp import Stamp
from tests.cylinders.judgement.test_guard import EVACUATED, GOOD, HOLDS_R22, TODAY
from tests.support.assessments import read

EVERYTHING = set(Act)
HANDED_OVER = {Act.RECLAIM, Act.DESTRUCTION}
CANADA = read_marks("DOT-4BA400", law="ca")
EUROPE = read_marks("PH 48 BAR UN", law="eu")


def refused(state, knowledge, **more):
    """Codes that stand against each act that is not allowed."""
    judged = judge(state, knowledge, on=TODAY, **more)
    return {
        act: {one.rule.code for one in permit.reasons}
        for act, permit in judged.permits.items()
        if not permit.allowed
    }


def test_with_a_cylinder_in_order_everything_may_be_done_but_drawing_it_to_vacuum(knowledge):
    assert refused(HOLDS_R22, knowledge) == {Act.EVACUATE: {"not-empty"}}
    assert refused(GOOD, knowledge) == {
        Act.DRAW_LIQUID: {"not-enough"},
        Act.DRAW_VAPOR: {"not-enough"},
    }


def test_what_a_scale_cannot_tell_from_nothing_does_not_stand_against_the_vacuum(knowledge):
    for mass_kg, stands in ((FOUND_KG, False), (FOUND_KG + 0.01, True)):
        state = replace(HOLDS_R22, contents=EVACUATED.put_in("R-22", mass_kg))
        assert (Act.EVACUATE in refused(state, knowledge)) is stands


def test_a_hold_forbids_filling_drawing_and_handing_over_but_not_carrying(knowledge):
    found = refused(replace(HOLDS_R22, holds=("dented",)), knowledge)
    assert set(found) == {Act.FILL, Act.DRAW_LIQUID, Act.DRAW_VAPOR, Act.EVACUATE} | HANDED_OVER
    assert {code for codes in found.values() for code in codes} == {"on-hold", "not-empty"}


def test_with_what_left_the_shop_nothing_may_be_done(knowledge):
    found = refused(replace(HOLDS_R22, standing="handed-over"), knowledge)
    assert set(found) == EVERYTHING
    assert all("out-of-service" in codes for codes in found.values())


def test_a_leaking_cylinder_is_neither_carried_nor_handed_over(knowledge):
    found = refused(HOLDS_R22, knowledge, course=Course(unexplained_loss_kg=2.0))
    assert {act for act, codes in found.items() if "leaking" in codes} == {Act.CARRY} | HANDED_OVER


def test_an_overfull_cylinder_stays_until_enough_was_taken_out(knowledge):
    limit = judge(HOLDS_R22, knowledge, on=TODAY).filling.limit_kg
    for mass_kg, stays in ((limit - 0.01, False), (limit + 0.01, True)):
        found = refused(replace(HOLDS_R22, contents=EVACUATED.put_in("R-22", mass_kg)), knowledge)
        assert ("fill-80-percent" in found.get(Act.CARRY, ())) is stays
        assert (set(found) >= HANDED_OVER) is stays
        assert Act.DRAW_LIQUID not in found


def test_a_full_cylinder_is_not_filled(knowledge):
    limit = judge(HOLDS_R22, knowledge, on=TODAY).filling.limit_kg
    for mass_kg, full in ((limit - 0.01, False), (limit, True)):
        judged = judge(replace(HOLDS_R22, contents=EVACUATED.put_in("R-22", mass_kg)), knowledge, on=TODAY)
        assert judged.permits[Act.FILL].allowed is not full
        assert (judged.room_kg is None) is full


def test_what_has_to_be_moved_is_not_carried(knowledge):
    found = refused(replace(HOLDS_R22, contents=EVACUATED.put_in("R-410A", 5.0), marks=read_marks("DOT-4BA240")),
                    knowledge)  # fmt: skip
    assert "rating-55c" in found[Act.CARRY] and set(found) >= HANDED_OVER


@pytest.mark.parametrize("law", ["us", "eu"])
def test_that_it_is_not_refillable_keeps_nobody_from_taking_it_away(knowledge, law):
    """What burns in a cylinder that is not marked for it does; in the words of each law."""
    marks = read_marks("DOT-39 NRC 400/500", law=law)
    assert Act.CARRY not in refused(replace(HOLDS_R22, marks=marks), knowledge)
    burning = replace(HOLDS_R22, contents=EVACUATED.put_in("R-32", 5.0), marks=marks)
    assert "non-refillable" not in refused(burning, knowledge)[Act.CARRY]
    assert "flammable-not-marked" in refused(burning, knowledge)[Act.CARRY]


def test_without_a_tare_nothing_is_handed_over(knowledge):
    found = refused(replace(HOLDS_R22, tare_kg=None), knowledge)
    assert {act for act, codes in found.items() if "mass-unknown" in codes} == {Act.FILL} | HANDED_OVER


def test_a_mixture_is_handed_over_for_reclaim_only_where_the_reclaimer_agreed(knowledge):
    for share, stands in ((0.49, False), (0.5, True)):
        mixed = replace(HOLDS_R22, assessment=read({"R-22": share}, kind="mixed"))
        found = refused(mixed, knowledge)
        assert ("mixed-for-reclaim" in found.get(Act.RECLAIM, ())) is stands
        assert Act.DESTRUCTION not in found


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"holds": ("dented",)}, "on-hold"),
        ({"dates": Dates(Stamp(2020, 1))}, "requalification-overdue"),
        ({"marks": read_marks("DOT-39 NRC 400/500")}, "non-refillable"),
        ({"marks": read_marks("??")}, "marks-unknown"),
        ({"marks": read_marks("PW 30 BAR")}, "marks-unknown"),
        ({"marks": CANADA}, "law-not-read"),
        ({"marks": read_marks("PH 48 BAR", law="eu")}, "no-conformity-mark"),
        ({"marks": read_marks("DOT-4BA400", law="eu")}, "marks-of-another-law"),
        ({"water_capacity_kg": None}, "capacity-unknown"),
        ({"tare_kg": None}, "mass-unknown"),
        ({"found_pressure_pa": 3e5}, "advice"),
        ({"contents": Contents(mass_kg=5.0)}, "contents-unknown"),
    ],
)
def test_an_empty_or_unknown_cylinder_is_not_offered_where_the_guard_would_refuse(change, code, knowledge):
    state = replace(GOOD, **change)
    judged = judge(state, knowledge, on=TODAY)
    assert code in {one.rule.code for one in judged.permits[Act.FILL].reasons}
    assert not judged.may_take(Incoming("R-22", 1.0)).allowed


def test_every_reason_of_every_candidate_is_named(knowledge):
    """One is too strong for the cylinder, the other burns: neither hides the other."""
    shares = {"R-22": 0.9, "R-410A": 0.06, "R-1234yf": 0.04}
    state = replace(HOLDS_R22, marks=read_marks("DOT-4BA260"), assessment=read(shares))
    found = judge(state, knowledge, on=TODAY)
    codes = {one.rule.code for one in found.may_take(Incoming("R-22", 1.0)).breaches}
    assert {"rating-55c", "flammable-not-marked"} <= codes


def test_what_burns_has_to_be_moved_under_every_law(knowledge):
    for marks in (read_marks("DOT-4BA400"), EUROPE):
        judged = judge(
            replace(HOLDS_R22, marks=marks, contents=EVACUATED.put_in("R-32", 5.0)), knowledge, on=TODAY
        )
        assert judged.permission.not_marked >= 0.9 and judged.permission.must_move
        assert "flammable-not-marked" in {cause.kind for cause in judged.attention}


@pytest.mark.parametrize(
    "marks", [CANADA, read_marks("DOT-4BA400", law="eu"), read_marks("PH 48 BAR", law="eu")]
)
def test_a_law_that_refuses_filling_does_not_call_its_contents_wrong(marks, knowledge):
    judged = judge(replace(HOLDS_R22, marks=marks), knowledge, on=TODAY)
    assert not judged.permission.must_move and judged.attention == ()
    assert judged.advice.forbids == frozenset()
    assert judged.room_kg is None and not judged.permits[Act.FILL].allowed


def test_without_a_limit_of_its_place_it_is_overfull_where_warmth_would_fill_it_with_liquid(knowledge):
    for mass_kg, over in ((21.5, False), (23.5, True)):
        state = replace(HOLDS_R22, marks=CANADA, contents=EVACUATED.put_in("R-22", mass_kg))
        judged = judge(state, knowledge, on=TODAY)
        assert judged.filling.limit is None and judged.filling.over is over
        assert ("overfull" in {cause.kind for cause in judged.attention}) is over
        assert ("fills it with liquid" in judged.advice.text) is over
        assert ("fill-55c" in {one.rule.code for one in judged.permits[Act.CARRY].reasons}) is over


def test_a_gas_that_may_not_be_filled_at_all_is_overfull_with_anything_in_it(shipped):
    state = replace(HOLDS_R22, marks=read_marks("PH 300 BAR"), contents=EVACUATED.put_in("R-744", 3.0))
    judged = judge(state, shipped, on=TODAY)
    assert judged.filling.limit_kg == 0.0 and "overfull" in {cause.kind for cause in judged.attention}


def test_a_reading_that_shows_one_refrigerant_on_top_of_an_unknown_ends_the_mixture(knowledge):
    """Every voice alike: the record never said that what was in it was another one."""
    poured = replace(HOLDS_R22, contents=Contents(mass_kg=4.0).put_in("R-22", 4.0))
    before = judge(poured, knowledge, on=TODAY)
    assert before.name.form == "mixed" and before.advice.code == "send-for-destruction"
    after = judge(replace(poured, assessment=read({"R-22": 0.97})), knowledge, on=TODAY)
    assert after.name.bare == "R-22" and after.advice.code == "keep"
    assert after.attention == () and after.may_take(Incoming("R-22", 1.0)).allowed


def test_a_label_that_is_ruled_out_forbids_drawing_whatever_else_presses(knowledge):
    state = replace(
        HOLDS_R22, label="R-134a", found_pressure_pa=3e5, assessment=read({"R-22": 0.6, "R-12": 0.3})
    )
    judged = judge(state, knowledge, on=TODAY)
    assert judged.advice.code == "not-empty" and judged.advice.forbids == {"in", "out"}
    released = judge(replace(state, released=frozenset({"label"})), knowledge, on=TODAY)
    assert released.advice.forbids == {"in"}


def test_a_released_label_forbids_nothing_and_is_still_not_kept(knowledge):
    state = replace(HOLDS_R22, label="R-134a", released=frozenset({"label"}))
    judged = judge(state, knowledge, on=TODAY)
    assert judged.advice.code == "relabel" and judged.advice.disposition != "keep"
    assert judged.advice.forbids == frozenset() and judged.advice.release_code is None
    assert judged.may_take(Incoming("R-22", 1.0)).allowed


@pytest.mark.parametrize(
    "contents", [EVACUATED.put_in("R-22", 25.0), EVACUATED.put_in("R-32", 5.0)], ids=["overfull", "burns"]
)
def test_what_has_to_come_out_of_a_held_cylinder_needs_its_release_first(contents, knowledge):
    held = judge(replace(HOLDS_R22, contents=contents, holds=("dented",)), knowledge, on=TODAY)
    assert (
        not held.permits[Act.DRAW_LIQUID].allowed
        and "a supervisor has to release it first" in held.advice.text
    )
    free = judge(replace(HOLDS_R22, contents=contents), knowledge, on=TODAY)
    assert free.permits[Act.DRAW_LIQUID].allowed and "release" not in free.advice.text
