from dataclasses import replace

import numpy as np
import pytest

from service.verdict.errors import InvalidEvidence
from service.verdict.instruments import contents
from service.verdict.instruments.belief import DOUBTED, unchecked
from service.verdict.instruments.classes import InstrumentClass
from service.verdict.model import BelievedContent, CylinderFacts, Pair

GRADE = InstrumentClass(0.3, 2e3, 0.005)
NAMES = ("R-22", "R-32", "R-134a", "R-410A", "R-404A")


def read(curves, designation, *, off_k=0.0, temp_k=296.0, thermometer="t", gauge="p"):
    pressure = float(curves.bubble_pressure_pa(designation, temp_k)[0])
    return Pair(
        temp_k + off_k,
        pressure,
        0.05,
        300.0,
        0.3,
        2e3,
        0.005,
        temperature_device=thermometer,
        pressure_device=gauge,
    )


def labelled(name):
    return CylinderFacts(claimed_designation=name)


def taught(engine, curves, off_k, labels, contents_of=NAMES):
    belief = unchecked(GRADE)
    for i, (name, label) in enumerate(zip(contents_of, labels, strict=True)):
        pair = read(curves, name, off_k=off_k, temp_k=288.0 + 2 * i)
        belief = contents.learned(belief, contents.explain(engine, pair, labelled(label)))
    return belief


def test_the_likeliest_explanation_is_the_label_and_the_error_is_found_under_it(engine, curves):
    seen = contents.explain(engine, read(curves, "R-22", off_k=1.2), labelled("R-22"))
    first = int(seen.weight.argmax())
    assert engine.space.designations[seen.designation[first]] == "R-22"
    assert seen.residual[first] / seen.slope_per_k[first] == pytest.approx(-1.2, abs=0.1)
    assert 0.5 < seen.weight[first] < 0.95


def test_explanations_and_none_of_them_add_up_to_one(engine, curves):
    seen = contents.explain(engine, read(curves, "R-410A"), labelled("R-410A"))
    span = 2 * contents.REACH_K * float(seen.slope_per_k.mean())
    assert float(seen.weight.sum()) + seen.unexplained * span == pytest.approx(1.0)
    assert seen.unexplained * span >= contents.STRAY


def test_the_reading_itself_does_not_vouch_for_the_contents(engine, curves):
    """Whether it reads as R-22 or 1 K beside it, the label's weight is the same."""
    near = contents.explain(engine, read(curves, "R-22"), labelled("R-22"))
    beside = contents.explain(engine, read(curves, "R-22", off_k=1.0), labelled("R-22"))
    own = [
        float(seen.weight[seen.designation == engine.space.designations.index("R-22")].sum())
        for seen in (near, beside)
    ]
    assert own[0] == pytest.approx(own[1], rel=0.05)


def test_what_was_believed_from_earlier_readings_does_not_teach():
    facts = CylinderFacts(
        claimed_designation="R-22",
        history={"R-22": 40},
        carried=(BelievedContent("R-32", {"none": 1.0}),),
        recorded_contents={"R-22": 5.0},
    )
    bare = contents.established(facts)
    assert (bare.carried, bare.history) == ((), {})
    assert (bare.claimed_designation, bare.recorded_contents) == ("R-22", {"R-22": 5.0})


def test_a_set_that_is_off_is_found_and_nothing_else_is(engine, curves):
    good, off = taught(engine, curves, 0.0, NAMES), taught(engine, curves, 1.2, NAMES)
    assert good.combined_k()[0] == pytest.approx(0.0, abs=0.1)
    assert good.doubt < 0.01
    assert off.combined_k()[0] == pytest.approx(1.2, abs=0.2)
    assert off.doubt >= DOUBTED


def test_wrong_labels_do_not_talk_a_set_into_an_error(engine, curves):
    belief = taught(engine, curves, 0.0, ("R-32", "R-410A", "R-22", "R-32", "R-134a"))
    mean, spread = belief.combined_k()
    assert abs(mean) < 2 * spread
    assert belief.doubt < DOUBTED


def test_without_a_label_neighbors_leave_the_error_open(engine, curves):
    """R-12, R-134a and R-1234yf lie within 1.5 K of each other in these tables."""
    pair = read(curves, "R-134a", temp_k=298.15)
    before = unchecked(GRADE)
    spreads = [
        contents.learned(before, contents.explain(engine, pair, facts)).combined_k()[1]
        for facts in (labelled("R-134a"), CylinderFacts(), labelled("R-32"))
    ]
    assert spreads[0] < spreads[1] < before.combined_k()[1]
    assert spreads[0] < spreads[2]


def test_a_pair_of_the_same_instrument_is_no_witness(engine, curves):
    pair = read(curves, "R-22")
    alone = contents.explain(engine, pair, labelled("R-22"))
    kin = [
        read(curves, "R-32", thermometer="t", gauge="other"),
        read(curves, "R-32", thermometer="other", gauge="p"),
        replace(read(curves, "R-32"), temperature_device=None, pressure_device=None),
    ]
    with_kin = contents.explain(engine, pair, labelled("R-22"), kin)
    assert with_kin.weight == pytest.approx(alone.weight)
    assert with_kin.residual == pytest.approx(alone.residual)


def test_another_instrument_is_a_witness(engine, curves):
    pair = read(curves, "R-22", off_k=1.0)
    witness = read(curves, "R-22", thermometer="t2", gauge="p2", temp_k=290.0)
    index = engine.space.designations.index("R-22")
    without = contents.explain(engine, pair, CylinderFacts())
    seen = contents.explain(engine, pair, CylinderFacts(), [witness])
    assert seen.weight[seen.designation == index].sum() > without.weight[without.designation == index].sum()


def test_a_pair_far_from_everything_teaches_nothing(engine, curves):
    pair = replace(read(curves, "R-22"), pressure_pa=1.2e7)
    before = unchecked(GRADE)
    after = contents.learned(before, contents.explain(engine, pair, labelled("R-22")))
    assert after.moments[0] == pytest.approx(before.moments[0], abs=1e-6)
    assert np.allclose(after.moments[1], before.moments[1], rtol=2e-2)


def test_what_no_verdict_can_be_built_on_is_refused(engine, curves):
    with pytest.raises(InvalidEvidence):
        contents.explain(engine, replace(read(curves, "R-22"), temp_k=500.0), CylinderFacts())
