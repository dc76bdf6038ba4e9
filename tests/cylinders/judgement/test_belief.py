"""What is believed, and what acts make of it: nothing becomes more certain, no suspicion goes away."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.cylinders.judgement import belief
from service.cylinders.judgement.belief import EMPTY, Belief, Content, Kind, Source

NAMES = ("R-22", "R-410A", "R-454B", "R-290", "R-407C", "R-134a")


@st.composite
def beliefs(draw):
    """Anything that may be believed of contents, unknown parts and mixtures included."""
    weights = draw(st.lists(st.floats(0.001, 1.0), min_size=1, max_size=4))
    names = draw(st.permutations(NAMES))
    total = sum(weights) / draw(st.floats(0.3, 1.0))
    contents = []
    for name, weight in zip(names, weights, strict=False):
        share = weight / total
        kinds = draw(st.lists(st.sampled_from(list(Kind)), min_size=1, max_size=3, unique=True))
        held = {kind: share / len(kinds) for kind in kinds}
        others = [other for other in NAMES if other != name]
        mixed = held.get(Kind.MIXED, 0.0)
        partners = {draw(st.sampled_from(others)): mixed * draw(st.floats(0.1, 1.0))} if mixed else {}
        contents.append(Content(name, held, partners, draw(st.sampled_from(list(Source)))))
    return Belief(tuple(sorted(contents, key=lambda one: -one.probability)))


def likeliest_alone(what):
    return max((one.kinds.get(Kind.CLEAN, 0.0) for one in what.contents), default=0.0)


@given(beliefs(), beliefs(), st.one_of(st.none(), st.floats(0.1, 20.0)), st.floats(0.1, 20.0))
def test_pouring_in_hides_nothing_and_makes_nothing_surer(held, incoming, held_kg, incoming_kg):
    after = belief.poured(held, incoming, held_kg=held_kg, incoming_kg=incoming_kg)
    total = None if held_kg is None else held_kg + incoming_kg
    assert sum(one.probability for one in after.contents) <= 1.0 + 1e-9
    for name in NAMES:
        for before, mass in ((held, held_kg), (incoming, incoming_kg)):
            if total is None or mass is None or mass > 0.0051 * total:
                assert after.may_hold(lambda one, name=name: one == name) >= (
                    before.may_hold(lambda one, name=name: one == name) - 0.005
                )
    if total is None or min(held_kg, incoming_kg) > 0.0051 * total:
        assert likeliest_alone(after) <= min(likeliest_alone(held), likeliest_alone(incoming)) + 1e-9


@given(beliefs(), beliefs(), st.floats(1.0, 20.0), st.floats(1.0, 20.0))
def test_a_suspicion_of_air_or_mixture_is_not_diluted(held, incoming, held_kg, incoming_kg):
    after = belief.poured(held, incoming, held_kg=held_kg, incoming_kg=incoming_kg)
    suspected = held.probability(Kind.AIR) + held.probability(Kind.MIXED)
    assert after.probability(Kind.AIR) + after.probability(Kind.MIXED) >= suspected - 0.005


@given(beliefs(), st.floats(0.0, 1.0))
def test_drawing_vapor_shifts_what_has_glide_and_nothing_else(held, lost):
    after = belief.vapour_drawn(held, lost, lambda name: name in {"R-407C", "R-454B"})
    for one, left in zip(held.contents, after.contents, strict=True):
        assert (one.designation, one.partners) == (left.designation, left.partners)
        assert left.probability == pytest.approx(one.probability)
        assert left.kinds.get(Kind.CLEAN, 0.0) <= one.kinds.get(Kind.CLEAN, 0.0) + 1e-12
        if one.designation in {"R-407C", "R-454B"} and lost >= belief.SHOWING_LOSS:
            assert left.kinds.get(Kind.CLEAN, 0.0) == pytest.approx(0.1 * one.kinds.get(Kind.CLEAN, 0.0))
        else:
            assert left.kinds == one.kinds


def test_two_designations_poured_together_are_a_mixture_with_the_heavier_one_first():
    held = belief.single("R-22", 0.97, Source.VERDICT)
    incoming = belief.single("R-410A", 0.95, Source.RECORD)
    light = belief.poured(held, incoming, held_kg=8.0, incoming_kg=2.0)
    assert light.contents[0].designation == "R-22"
    assert light.contents[0].kinds == {Kind.MIXED: pytest.approx(0.97 * (0.95 + 0.05))}
    assert light.contents[0].partners == {"R-410A": pytest.approx(0.97 * 0.95)}
    heavy = belief.poured(held, incoming, held_kg=2.0, incoming_kg=8.0)
    assert heavy.contents[0].designation == "R-410A"
    assert heavy.may_hold(lambda name: name == "R-22") == pytest.approx(0.97)


def test_half_a_percent_of_another_counts_as_none_whichever_it_is():
    held, incoming = belief.single("R-22", 0.97, Source.VERDICT), belief.single("R-290", 0.95, Source.RECORD)
    assert belief.poured(held, incoming, held_kg=10.0, incoming_kg=0.05).believable == ("R-22",)
    assert belief.poured(held, incoming, held_kg=0.05, incoming_kg=10.0) is incoming
    assert belief.poured(EMPTY, incoming, held_kg=0.0, incoming_kg=1.0) is incoming
    assert belief.poured(EMPTY, incoming, held_kg=None, incoming_kg=1.0) is incoming
    residue = replace(held, is_empty=True)
    on_residue = belief.poured(residue, incoming, held_kg=0.0, incoming_kg=1.0)
    assert set(on_residue.believable) == {"R-22", "R-290"} and on_residue.contents[0].designation == "R-290"
    same = replace(incoming, is_empty=True)
    assert belief.poured(same, incoming, held_kg=0.0, incoming_kg=1.0) is incoming
    assert set(belief.poured(held, incoming, held_kg=10.0, incoming_kg=0.06).believable) == {"R-22", "R-290"}


def test_the_same_refrigerant_stays_one_and_keeps_the_worse_of_both():
    aired = Belief((Content("R-22", {Kind.AIR: 0.6, Kind.CLEAN: 0.3}, {}),))
    after = belief.poured(aired, belief.single("R-22", 1.0, Source.RECORD), held_kg=5.0, incoming_kg=5.0)
    assert after.contents[0].kinds[Kind.AIR] == pytest.approx(0.6)
    assert after.contents[0].source is Source.CARRIED


def test_records_alone_stay_records():
    first, second = (belief.single("R-22", 0.95, Source.RECORD) for _ in range(2))
    assert belief.poured(first, second, held_kg=5.0, incoming_kg=5.0).contents[0].source is Source.RECORD
    doubted = replace(first, contents=(replace(first.contents[0], source=Source.LABEL),))
    assert belief.poured(doubted, second, held_kg=5.0, incoming_kg=5.0).contents[0].source is Source.CARRIED


def test_each_of_several_claims_is_as_good_as_the_others():
    assert belief.claimed(["R-22"], 0.9).of("R-22").probability == pytest.approx(0.9)
    both = belief.claimed(["R-22", "R-290"], 0.9)
    assert both.of("R-22").probability == both.of("R-290").probability == pytest.approx(0.45)
    assert both.unknown == pytest.approx(0.1)


def test_what_is_believable_is_two_percent_or_more_as_main_content_or_partner():
    what = Belief(
        (
            Content("R-22", {Kind.CLEAN: 0.9, Kind.MIXED: 0.06}, {"R-290": 0.02, "R-32": 0.019}),
            Content("R-407C", {Kind.CLEAN: 0.019}),
            Content("R-32", {Kind.CLEAN: 0.002}),
        )
    )
    assert what.believable == ("R-22", "R-32", "R-290")
    assert Belief((Content("R-22", {Kind.CLEAN: 0.01}),)).believable == ("R-22",)
    assert Belief().believable == ()


def test_what_is_surely_with_one_is_surely_with_both_together():
    held = Belief((Content("R-410A", {Kind.MIXED: 1.0}, {"R-22": 0.5}),))
    incoming = Belief((Content("R-410A", {Kind.MIXED: 1.0}, {"R-22": 0.8, "R-134a": 0.3}),))
    after = belief.poured(held, incoming, held_kg=4.0, incoming_kg=4.0)
    assert after.contents[0].partners == pytest.approx({"R-22": 0.9, "R-134a": 0.3})
