"""How full it is, by the worst of what it may hold; and what its marks do not permit, from half on."""

from dataclasses import replace

import pytest

from service.cylinders.contents import Contents
from service.cylinders.filling import filling_limit
from service.cylinders.judgement.belief import Belief, Content, Kind, Source
from service.cylinders.judgement.hazards import with_what_burns
from service.cylinders.judgement.limit import filling
from service.cylinders.judgement.permission import Permission, permission
from service.cylinders.markings import read_marks
from tests.cylinders.judgement.test_guard import GOOD

WEIGHED = replace(GOOD, contents=Contents(mass_kg=9.0, basis="record"))


def believing(*names):
    shares = tuple(Content(name, {Kind.CLEAN: 0.9 / len(names)}, {}, Source.VERDICT) for name in names)
    return Belief(shares)


def test_the_level_is_that_of_whatever_stands_highest(knowledge):
    alone = {
        name: filling(WEIGHED, believing(name), knowledge).liquid_fraction for name in ("R-22", "R-410A")
    }
    assert alone["R-410A"] > alone["R-22"] + 0.02
    both = filling(WEIGHED, believing("R-22", "R-410A"), knowledge)
    assert both.liquid_fraction == alone["R-410A"]
    assert both.limit_kg == filling(WEIGHED, believing("R-410A"), knowledge).limit_kg


def test_a_law_that_nobody_has_read_lets_nothing_in(knowledge):
    marks = replace(read_marks("DOT-4BA400"), law="ca")
    (limit,) = filling_limit("R-22", 21.6, knowledge, marks=marks).limits
    assert limit.mass_kg == 0.0


@pytest.mark.parametrize(("share", "moves"), [(0.4999, False), (0.5, True)])
def test_contents_are_moved_from_half_on(share, moves):
    assert Permission(not_permitted=share).must_move is moves
    assert Permission(not_marked=share).must_move is moves


def test_of_what_nobody_knows_there_is_no_level_and_no_limit(knowledge):
    unknown = filling(WEIGHED, Belief(), knowledge)
    assert (unknown.limit, unknown.liquid_fraction, unknown.liquid_full_temp_k) == (None, None, None)
    assert unknown.net_mass_kg == 9.0 and not unknown.over


def test_an_empty_cylinder_holds_nothing_that_its_marks_could_forbid(knowledge):
    empty = permission(GOOD, Belief(is_empty=True), knowledge)
    assert (empty.breaches, empty.not_permitted, empty.not_marked) == ((), 0.0, 0.0)


def test_what_its_marks_permit_counts_for_nothing(knowledge):
    clean = permission(WEIGHED, believing("R-22"), knowledge)
    assert (clean.breaches, clean.not_permitted, clean.not_marked) == ((), 0.0, 0.0)
    marked = replace(WEIGHED, flammable_marked=True)
    assert permission(marked, believing("R-290"), knowledge).not_marked == 0.0
    assert permission(WEIGHED, believing("R-290"), knowledge).not_marked == pytest.approx(0.9)


def test_what_burns_is_named_once(knowledge):
    assert sorted(with_what_burns(believing("R-22", "R-290"), knowledge)) == ["R-22", "R-290"]
