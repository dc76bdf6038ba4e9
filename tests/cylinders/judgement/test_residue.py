"""Emptied and not evacuated: what was believed of the contents is believed of the residue."""

from dataclasses import replace

import pytest

from service.cylinders.contents import Contents
from service.cylinders.judgement.belief import Source, carried, single
from service.cylinders.judgement.judge import judge
from service.cylinders.judgement.permits import Act
from service.cylinders.judgement.state import Incoming
from tests.cylinders.judgement.test_guard import EVACUATED, GOOD, HOLDS_R22, TODAY
from tests.support.assessments import read

DRAWN = replace(HOLDS_R22, label="R-22", contents=HOLDS_R22.contents.take_out(8.0))
DOUBTFUL = replace(DRAWN, carried=carried(read({"R-290": 0.5, "R-22": 0.45}).belief))


def codes(breaches):
    return {one.rule.code for one in breaches}


def test_the_hazards_of_what_was_in_it_stay(knowledge):
    judged = judge(DOUBTFUL, knowledge, on=TODAY)
    assert judged.name.form == "empty" and judged.belief.is_empty
    assert [one.code for one in judged.hazards] == ["flammable"]
    assert judged.name.ground == "residue of R-290 or R-22, not evacuated"
    assert judged.filling.limit is None and judged.room_kg is None and not judged.filling.over
    assert not judged.permission.must_move and judged.attention == ()


def test_nothing_goes_on_top_of_it_before_the_vacuum(knowledge):
    judged = judge(DOUBTFUL, knowledge, on=TODAY)
    for name in ("R-22", "R-290"):
        assert {"not-evacuated", "flammable-not-marked"} <= codes(
            judged.may_take(Incoming(name, 1.0)).breaches
        )
    assert "flammable-not-marked" in codes(judged.permits[Act.FILL].reasons)
    vacuum = judge(replace(DOUBTFUL, contents=EVACUATED), knowledge, on=TODAY)
    assert vacuum.hazards == () and vacuum.may_take(Incoming("R-22", 1.0)).allowed
    assert vacuum.permits[Act.FILL].allowed


def test_more_of_what_was_in_it_is_welcome(knowledge):
    judged = judge(DRAWN, knowledge, on=TODAY)
    assert judged.name.ground == "residue of R-22, not evacuated" and judged.hazards == ()
    assert judged.may_take(Incoming("R-22", 1.0)).allowed and judged.permits[Act.FILL].allowed
    assert codes(judged.may_take(Incoming("R-410A", 1.0)).breaches) == {"not-evacuated"}


def test_a_mixture_leaves_the_residue_of_a_mixture(knowledge):
    mixed = replace(GOOD, contents=EVACUATED.put_in("R-22", 4.0).put_in("R-134a", 2.0).take_out(6.0))
    judged = judge(mixed, knowledge, on=TODAY)
    assert judged.name.ground == "residue of R-134a or R-22, not evacuated"
    assert judged.attention == () and Act.RECLAIM not in {
        a for a, p in judged.permits.items() if not p.allowed
    }
    assert "not-evacuated" in codes(judged.may_take(Incoming("R-22", 1.0)).breaches)


@pytest.mark.parametrize("claims", [(), ("R-22",)])
def test_nothing_known_of_it_leaves_an_unnamed_residue(claims, knowledge):
    judged = judge(replace(GOOD, contents=Contents(mass_kg=0.0), claims=claims), knowledge, on=TODAY)
    assert judged.name.form == "empty"
    assert judged.name.ground == ("residue of R-22, not evacuated" if claims else "not evacuated")


def test_the_trust_of_an_old_label_is_no_more_than_it_was(knowledge):
    before = replace(
        DRAWN, contents=replace(DRAWN.contents, mass_kg=5.0), carried=single("R-22", 0.6, Source.LABEL)
    )
    after = replace(before, contents=before.contents.take_out(5.0))
    assert (
        judge(after, knowledge, on=TODAY).belief.contents
        == judge(before, knowledge, on=TODAY).belief.contents
    )
