from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders import rules
from service.cylinders.contents import Contents
from service.cylinders.filling import worst_limit
from service.cylinders.judgement.belief import Belief, Content, Kind
from service.cylinders.judgement.guard import SCALE_KG
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.state import CylinderState, Incoming, Trust
from service.cylinders.markings import read_marks
from service.cylinders.requalification import Dates
from service.cylinders.requalification_stamp import Stamp
from tests.support.assessments import read

TODAY = date(2026, 11, 25)
EVACUATED = Contents(mass_kg=0.0, evacuated=True, basis="record")
GOOD = CylinderState(
    "HM-1", read_marks("DOT-4BA400"), water_capacity_kg=21.6, tare_kg=12.4, dates=Dates(Stamp(2024, 6)),
    contents=EVACUATED, inspected_on=TODAY, vacuum_recorded=True,
)  # fmt: skip
HOLDS_R22 = replace(GOOD, contents=EVACUATED.put_in("R-22", 8.0))


def codes(check):
    return {breach.rule.code for breach in check.breaches}


def ask(state, designation, mass_kg, knowledge, candidates=()):
    return judge(state, knowledge, on=TODAY).may_take(Incoming(designation, mass_kg, candidates))


def draw(state, mass_kg, knowledge, **how):
    return judge(state, knowledge, on=TODAY).may_give(mass_kg, **{"as_vapour": False, **how})


def test_a_good_cylinder_takes_it(knowledge):
    check = ask(GOOD, "R-410A", 10.0, knowledge)
    assert check.allowed and check.accepted_by is rules.RATING_55
    assert check.remaining_kg == pytest.approx(0.848 * 21.6, abs=0.05)
    assert check.remaining_after_kg == pytest.approx(check.remaining_kg - 10.0)
    assert [caution.rule.code for caution in check.cautions] == ["weigh-again"]


def test_one_that_is_overfull_has_no_room_at_all(knowledge):
    check = ask(replace(HOLDS_R22, contents=EVACUATED.put_in("R-22", 25.0)), "R-22", 1.0, knowledge)
    assert check.remaining_kg == check.remaining_after_kg == 0.0


def test_more_of_the_same_is_welcome(knowledge):
    assert ask(HOLDS_R22, "R-22", 5.0, knowledge).allowed


@pytest.mark.parametrize(
    ("change", "designation", "mass_kg", "code"),
    [
        ({"marks": read_marks("DOT-39 NRC 400/500")}, "R-22", 1.0, "non-refillable"),
        ({"marks": read_marks("??")}, "R-22", 1.0, "marks-unknown"),
        ({"marks": read_marks("DOT-4BA350")}, "R-410A", 1.0, "rating-55c"),
        ({"holds": ("air in it",)}, "R-22", 1.0, "on-hold"),
        ({"standing": "scrapped"}, "R-22", 1.0, "out-of-service"),
        ({"dates": Dates(Stamp(2020, 1))}, "R-22", 1.0, "requalification-overdue"),
        ({"dates": Dates()}, "R-22", 1.0, "requalification-unknown"),
        ({"water_capacity_kg": None}, "R-22", 1.0, "capacity-unknown"),
        ({"tare_kg": None}, "R-22", 1.0, "mass-unknown"),
        ({"contents": EVACUATED.put_in("R-410A", 2.0)}, "R-22", 1.0, "one-refrigerant"),
        ({"contents": Contents()}, "R-22", 1.0, "contents-unknown"),
        ({"contents": EVACUATED.put_in("R-410A", 2.0).take_out(2.0)}, "R-22", 1.0, "not-evacuated"),
        ({}, "R-22", 25.0, "fill-80-percent"),
        ({}, "R-32", 1.0, "flammable-not-marked"),
        ({}, "R-717", 1.0, "packaging-not-listed"),
    ],
)
def test_each_rule_refuses_by_itself(change, designation, mass_kg, code, knowledge):
    check = ask(replace(GOOD, **change), designation, mass_kg, knowledge)
    assert not check.allowed and code in codes(check)
    for breach in check.breaches:
        assert breach.rule.citation and breach.rule.edition and breach.detail


def test_every_broken_rule_is_listed(knowledge):
    bad = replace(HOLDS_R22, holds=("dented",), dates=Dates(Stamp(2019, 1)), marks=read_marks("DOT-4BA350"))
    assert codes(ask(bad, "R-410A", 30.0, knowledge)) >= {
        "on-hold", "requalification-overdue", "rating-55c", "one-refrigerant", "fill-80-percent", "fill-55c",
    }  # fmt: skip


def test_only_what_the_law_leaves_room_for_may_be_overridden(knowledge):
    assert ask(HOLDS_R22, "R-410A", 2.0, knowledge).may_be_overridden
    assert not ask(HOLDS_R22, "R-22", 2.0, knowledge).may_be_overridden, "nothing stands against it"
    assert not ask(
        replace(HOLDS_R22, marks=read_marks("DOT-4BA350")), "R-410A", 2.0, knowledge
    ).may_be_overridden
    never = {
        rules.RATING_55, rules.RATING_21, rules.FILL_80, rules.FILL_55, rules.FILL_DENSITY,
        rules.NON_REFILLABLE, rules.OVERDUE, rules.PACKAGING, rules.FLAMMABLE_MARK,
    }  # fmt: skip
    assert not any(rule.may_override for rule in never)


def test_the_limit_after_a_mixing_override_is_the_worst_of_both(knowledge):
    check = ask(HOLDS_R22, "R-410A", 10.0, knowledge)
    assert check.limit.designation == "R-410A"
    assert "fill-80-percent" not in codes(check)
    assert "fill-80-percent" in codes(ask(HOLDS_R22, "R-410A", 10.5, knowledge))


def test_a_verdict_that_contradicts_the_record_rules(knowledge):
    other = replace(HOLDS_R22, assessment=read({"R-407C": 0.97}))
    assert codes(ask(other, "R-22", 1.0, knowledge)) == {"one-refrigerant"}
    open_set = replace(HOLDS_R22, assessment=read({"R-22": 0.6, "R-407C": 0.4}))
    assert codes(ask(open_set, "R-22", 1.0, knowledge)) == {"contents-unknown"}
    for share in (0.90, 0.93):
        agreed = replace(HOLDS_R22, assessment=read({"R-22": share, "R-407C": 1.0 - share}))
        assert ask(agreed, "R-22", 1.0, knowledge).allowed


def test_an_inherited_cylinder_is_known_by_its_verdict(knowledge):
    inherited = replace(GOOD, contents=Contents(mass_kg=6.0), assessment=read({"R-22": 0.97}))
    assert ask(inherited, "R-22", 1.0, knowledge).allowed
    open_set = replace(
        inherited, assessment=read({"R-22": 0.7, "R-410A": 0.3}), marks=read_marks("DOT-4BA350")
    )
    assert codes(ask(open_set, "R-22", 1.0, knowledge)) == {"contents-unknown", "rating-55c"}


def test_a_believable_flammable_content_closes_a_cylinder_that_is_not_marked_for_it(knowledge):
    for share, refused in ((0.019, False), (0.02, True)):
        state = replace(HOLDS_R22, assessment=read({"R-22": 0.97 - share, "R-32": share}))
        assert ("flammable-not-marked" in codes(ask(state, "R-22", 1.0, knowledge))) is refused


def test_a_verdict_of_mixed_closes_the_cylinder(knowledge):
    mixed = replace(HOLDS_R22, assessment=read({"R-22": 0.97}, kind="mixed", partners={"R-134a": 0.9}))
    assert codes(ask(mixed, "R-22", 1.0, knowledge)) == {"one-refrigerant"}


@pytest.mark.parametrize(
    ("disposition", "into", "out"),
    [
        ("keep", True, True),
        ("measure-again", False, False),
        ("hold", False, False),
        ("recover-and-recycle", False, True),
        ("send-to-reclaimer", False, False),
        ("send-for-destruction", False, True),
    ],
)
def test_what_the_advice_forbids_is_refused_until_a_supervisor_has_released_it(
    disposition, into, out, knowledge
):
    state = replace(HOLDS_R22, assessment=read({"R-22": 0.97}, disposition=disposition))
    filled, drawn = ask(state, "R-22", 1.0, knowledge), draw(state, 1.0, knowledge)
    assert (filled.allowed, drawn.allowed) == (into, out)
    assert codes(filled) <= {"advice"} and codes(drawn) <= {"advice"}
    for check in (filled, drawn):
        assert all(breach.detail == f"{disposition} it" for breach in check.breaches)
        assert check.allowed or check.may_be_overridden
    released = replace(state, released=frozenset({disposition}))
    assert ask(released, "R-22", 1.0, knowledge).allowed and draw(released, 1.0, knowledge).allowed


def test_taking_out_what_must_come_out_is_never_forbidden_by_doubt(knowledge):
    doubted = replace(HOLDS_R22, assessment=read({"R-22": 0.97}, disposition="hold"))
    overfull = replace(doubted, contents=EVACUATED.put_in("R-22", 25.0))
    assert not draw(doubted, 1.0, knowledge).allowed
    assert draw(overfull, 5.0, knowledge).allowed
    assert not draw(replace(overfull, holds=("by hand",)), 5.0, knowledge).allowed


def test_an_unknown_goes_into_an_empty_cylinder_of_its_own_once_it_is_measured(knowledge):
    assert ask(GOOD, None, 2.0, knowledge, ("R-22", "R-407C")).allowed
    assert codes(ask(HOLDS_R22, None, 2.0, knowledge, ("R-22",))) == {"unknown-alone"}
    assert codes(ask(GOOD, None, 2.0, knowledge)) == {"unknown-unmeasured"}
    assert "rating-55c" in codes(
        ask(replace(GOOD, marks=read_marks("DOT-4BA350")), None, 2.0, knowledge, ("R-22", "R-410A"))
    )


def test_an_overdue_cylinder_may_be_emptied_but_one_on_hold_may_not(knowledge):
    overdue = replace(HOLDS_R22, dates=Dates(Stamp(2019, 1)))
    assert draw(overdue, 8.0, knowledge).allowed
    held = replace(HOLDS_R22, holds=("mixed",))
    assert codes(draw(held, 8.0, knowledge)) == {"on-hold"}


def test_no_more_comes_out_than_is_in(knowledge):
    assert codes(draw(HOLDS_R22, 8.5, knowledge)) == {"not-enough"}
    assert draw(HOLDS_R22, 8.0 + SCALE_KG, knowledge).allowed, "two readings of a scale may differ so much"
    assert not draw(HOLDS_R22, 8.0505, knowledge).allowed


def test_several_mixtures_that_are_likely_together_close_the_cylinder(knowledge):
    first = Content("R-22", {Kind.CLEAN: 0.3, Kind.MIXED: 0.1}, {"R-12": 0.1})
    second = Content("R-134a", {Kind.MIXED: 0.45}, {"R-12": 0.45})
    together = replace(read({"R-22": 0.4}), belief=Belief((second, first)))
    for assessment in (together, replace(together, belief=Belief((first, second)))):
        state = replace(HOLDS_R22, assessment=assessment)
        assert {"one-refrigerant", "contents-unknown"} <= codes(ask(state, "R-22", 1.0, knowledge))


def test_air_is_no_other_refrigerant(knowledge):
    assert ask(
        replace(HOLDS_R22, assessment=read({"R-22": 0.97}, kind="air")), "R-22", 1.0, knowledge
    ).allowed


@pytest.mark.parametrize(("mixed", "refused"), [(0.40, False), (0.41, True)])
def test_a_mixture_likelier_than_the_refrigerant_alone_closes_the_cylinder(mixed, refused, knowledge):
    kinds = {Kind.CLEAN: 0.40, Kind.MIXED: mixed, Kind.AIR: 0.96 - 0.40 - mixed}
    state = replace(
        HOLDS_R22, assessment=replace(read({"R-22": 0.96}), belief=Belief((Content("R-22", kinds),)))
    )
    assert ("one-refrigerant" in codes(ask(state, "R-22", 1.0, knowledge))) is refused


def test_why_nothing_goes_on_top_of_it_is_said_in_full(knowledge):
    def why(state, designation="R-22"):
        return [one.detail for one in ask(state, designation, 1.0, knowledge).breaches]

    residue = replace(GOOD, contents=Contents({"unknown": 1.0}, 0.0, basis="record"))
    assert "it last held a mixture and was not evacuated" in why(residue)
    assert any("nothing was measured" in one for one in why(replace(GOOD, contents=Contents(mass_kg=5.0))))
    open_set = replace(HOLDS_R22, assessment=read({"R-407C": 0.4, "R-22": 0.4}))
    assert "it may hold R-407C or R-22" in why(open_set)

    tentative = replace(HOLDS_R22, assessment=read({"R-407C": 0.6, "R-22": 0.3}))
    assert "it may hold R-407C or R-22" in why(tentative)
    with_air = replace(HOLDS_R22, assessment=read({"R-22": 0.6}, kind="air"))
    assert "it may hold R-22" in why(with_air)
    other = replace(GOOD, contents=replace(EVACUATED.put_in("R-410A", 2.0).take_out(2.0), evacuated=False))
    assert "it last held R-410A and was not evacuated" in why(other)
    unlike = replace(other, carried=Belief((Content("R-407C", {Kind.CLEAN: 0.9}),)))
    assert "it last held R-407C and was not evacuated" in why(unlike)


def test_a_label_alone_is_taken_at_its_word_however_little_labels_are_trusted(knowledge):
    labelled = replace(
        GOOD, contents=Contents(mass_kg=6.0), label="R-22", claims=("R-22",), trust=Trust(label=0.6)
    )
    check = ask(labelled, "R-22", 1.0, knowledge)
    assert check.allowed and "claim-only" in {caution.rule.code for caution in check.cautions}
    on_record = ask(HOLDS_R22, "R-22", 1.0, knowledge)
    assert "claim-only" not in {caution.rule.code for caution in on_record.cautions}
    two = replace(labelled, claims=("R-22", "R-410A"))
    assert "contents-unknown" in codes(ask(two, "R-22", 1.0, knowledge))


def test_a_new_owner_is_told_of(knowledge):
    assert draw(HOLDS_R22, 1.0, knowledge).cautions == ()
    [caution] = draw(HOLDS_R22, 1.0, knowledge, new_owner="Another Shop").cautions
    assert (caution.rule, caution.detail) == (rules.NEW_OWNER, "it goes to Another Shop")


def test_vapour_of_a_blend_with_glide_is_warned_of(knowledge):
    blend = replace(GOOD, contents=EVACUATED.put_in("R-407C", 8.0))
    assert [c.rule.code for c in draw(blend, 1.0, knowledge, as_vapour=True).cautions] == [
        "vapour-shifts-blend"
    ]
    assert draw(HOLDS_R22, 1.0, knowledge, as_vapour=True).cautions == ()
    assert draw(blend, 1.0, knowledge, as_vapour=False).cautions == ()


def test_what_has_to_be_said_is_said(knowledge):
    other = replace(GOOD, inspected_on=None, needs_consent_of="Another Shop", vacuum_recorded=False)
    said = {caution.rule.code for caution in ask(other, "R-22", 1.0, knowledge).cautions}
    assert said == {"inspect-before-filling", "weigh-again", "owner-consent", "not-evacuated"}
    filled = replace(HOLDS_R22, vacuum_recorded=False)
    said = {caution.rule.code for caution in ask(filled, "R-22", 1.0, knowledge).cautions}
    assert said == {"weigh-again"}, "how it was evacuated no longer matters once something is in it"


@given(
    mass=st.floats(0.1, 40.0),
    more=st.floats(0.0, 20.0),
    name=st.sampled_from(["R-22", "R-410A", "R-134a", "R-125"]),
)
def test_what_is_refused_stays_refused_when_there_is_more_of_it(knowledge, mass, more, name):
    smaller, larger = ask(GOOD, name, mass, knowledge), ask(GOOD, name, mass + more, knowledge)
    assert codes(smaller) <= codes(larger)
    assert smaller.allowed is (mass <= smaller.limit.mass_kg + 1e-9)


MOVES = st.lists(
    st.tuples(
        st.sampled_from(["in", "out", "evacuate"]),
        st.sampled_from(["R-22", "R-410A", "R-134a"]),
        st.floats(0.1, 15.0),
    ),
    max_size=12,
)


@given(MOVES)
def test_however_it_is_used_allowed_moves_never_overfill_or_mix(knowledge, moves):
    state = GOOD
    for direction, name, mass in moves:
        contents = state.contents
        if direction == "in" and ask(state, name, mass, knowledge).allowed:
            contents = contents.put_in(name, mass)
        elif direction == "out" and draw(state, mass, knowledge).allowed:
            contents = contents.take_out(mass)
        elif direction == "evacuate" and contents.is_empty:
            contents = contents.evacuate()
        state = replace(state, contents=contents)
        assert not contents.is_mixed and (contents.mass_kg or 0.0) >= 0.0
        held = contents.designation
        if held is not None:
            assert contents.mass_kg <= worst_limit([held], 21.6, knowledge, marks=GOOD.marks).mass_kg + 1e-6


@pytest.mark.parametrize(
    ("share", "first", "contradicted", "cautioned"),
    [(0.02, "R-22", True, True), (0.09, "R-22", True, True), (0.11, "R-22", False, True),
     (0.6, "R-410A", False, False), (None, "R-410A", False, False)],
)  # fmt: skip
def test_a_nameplate_that_the_check_hardly_leaves_is_contradicted(
    share, first, contradicted, cautioned, knowledge
):
    names = (first, *({"R-22", "R-410A"} - {first}))
    incoming = Incoming("R-410A", 2.0, names, nameplate_share=share)
    check = judge(GOOD, knowledge, on=TODAY).may_take(incoming)
    assert ("nameplate-contradicted" in codes(check)) is contradicted
    assert ("nameplate-contradicted" in {one.rule.code for one in check.cautions}) is cautioned
