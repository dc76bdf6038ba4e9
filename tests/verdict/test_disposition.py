import dataclasses
import itertools

import pytest

from service.verdict import advice, claim, contamination, disposition, identity
from service.verdict.model import (
    Candidate,
    Claim,
    Contamination,
    ContentsState,
    CylinderFacts,
    Findings,
    Identity,
)
from service.verdict.settings import WORLDS, VerdictSettings


def chosen(engine, pairs, label=None, settings=None, *, more_to_learn=True):
    space, settings = engine.space, settings or engine.settings
    facts = CylinderFacts(claimed_designation=label)
    found = engine.infer(pairs, facts)
    who = identity.find(found, space, settings)
    findings = Findings(
        who,
        contamination.find(found, space, facts, (), settings),
        contamination.contents_state(found, settings),
        claim.find(found, space, facts, who, settings),
    )
    return disposition.choose(found, space, findings, settings, more_to_learn=more_to_learn)


def test_every_choice_has_a_cost_in_every_world():
    for row in VerdictSettings().costs.values():
        assert tuple(row) == WORLDS


def test_passing_a_contaminated_cylinder_is_far_dearer_than_measuring():
    costs = VerdictSettings().costs
    assert (
        min(costs["keep"][world] for world in ("air", "shifted", "mixed", "mislabeled"))
        > 5 * costs["measure-again"]["clean"]
    )


def test_a_clean_cylinder_is_kept(engine, at):
    verdict = engine.verdict([at("R-22", temp_bias_k=0.1)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.disposition.code == "keep"


@pytest.mark.parametrize("label", [None, 1, 4])
def test_worlds_sum_to_one(engine, at, label):
    chances = disposition.worlds(engine.infer([at("R-22", factor=1.04)]), label)
    assert sum(chances.values()) == pytest.approx(1.0, abs=1e-4)
    assert tuple(chances) == WORLDS


def test_clean_but_of_something_else_is_a_world_of_its_own(engine, at):
    found = engine.infer([at("R-134a")])
    wrong = disposition.worlds(found, engine.space.designations.index("R-22"))
    right = disposition.worlds(found, engine.space.designations.index("R-134a"))
    assert wrong["mislabeled"] == pytest.approx(right["clean"] + right["mislabeled"], abs=1e-6)
    assert right["clean"] > 0.9
    assert wrong["clean"] < 1e-6


def test_a_contradicted_label_is_never_kept_whatever_it_costs(engine, at):
    """The contents are clean, and still not what the label says."""
    free = {code: dict(row) for code, row in engine.settings.costs.items()}
    free["keep"] = dict.fromkeys(WORLDS, 0.0)
    settings = dataclasses.replace(engine.settings, costs=free)
    found = chosen(engine, [at("R-134a", temp_bias_k=0.1)], "R-22", settings)
    assert found.code != "keep"
    assert "The label says R-22" in found.text
    assert "contradict" in found.text
    assert chosen(engine, [at("R-22", temp_bias_k=0.1)], "R-22", settings).code == "keep"


def test_a_contradicted_label_is_held_and_named(engine, at):
    verdict = engine.verdict([at("R-134a", temp_bias_k=0.1)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.claim.finding == "contradicted"
    assert verdict.disposition.code == "hold"
    assert verdict.disposition.text.startswith(
        "The label says R-22, and these readings contradict it: they fit R-134a. Hold: find out what is in it and "
        "relabel it."
    )


def test_a_label_that_the_readings_support(engine, at):
    verdict = engine.verdict([at("R-22", temp_bias_k=0.1)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.claim.finding == "supported"
    assert verdict.claim.probability > verdict.claim.clean > 0.9
    assert engine.verdict([at("R-22")]).claim is None


def test_nothing_is_measured_for_nothing(engine, at):
    found = chosen(engine, [at("R-22", factor=1.05)], more_to_learn=False)
    assert found.code != "measure-again"
    assert "measure-again" not in found.expected_costs


def test_a_liquid_full_cylinder_is_held_whatever_it_costs(engine, at):
    verdict = engine.verdict([at("R-22", factor=4.0)], CylinderFacts(claimed_designation="R-22"))
    assert verdict.disposition.code == "hold"
    assert "full of liquid" in verdict.disposition.text
    assert verdict.reasons[0].startswith("DANGER")


def test_costs_are_settings(engine, at):
    dear = {code: dict(row) for code, row in engine.settings.costs.items()}
    dear["keep"] = dict.fromkeys(WORLDS, 1000000.0)
    settings = dataclasses.replace(engine.settings, costs=dear)
    assert chosen(engine, [at("R-22")], "R-22", settings).code != "keep"


def findings(names=("R-22",), who="identified", what="none-detected", state="two-phase", label=None):
    candidates = tuple(Candidate(name, 0.9 / len(names), 298.0, 0.0) for name in names)
    shares = {"none": 0.8, "air": 0.1, "shifted": 0.0, "mixed": 0.1}
    return Findings(
        Identity(who, candidates),
        Contamination(what, shares, None, (), ()),
        ContentsState(state, {"two-phase": 1.0, "vapour-only": 0.0, "liquid-full": 0.0}),
        None
        if label is None
        else Claim(label, "contradicted" if label not in names else "supported", 0.5, 0.5),
    )


CODES = tuple(VerdictSettings().costs)
WHO = {"identified": ("R-22",), "narrowed": ("R-404A", "R-507A"), "unrecognised": ()}
WHAT = ("none-detected", "air", "shifted", "mixed", "undecided")


STATES = ("two-phase", "vapour-only", "undecided")
LABELS = (None, "R-22", "R-134a")


@pytest.mark.parametrize("code", CODES)
def test_no_text_says_less_or_more_than_the_findings(code):
    for who, what, state, label in itertools.product(WHO, WHAT, STATES, LABELS):
        case = findings(WHO[who], who, what, state, label)
        if code == "keep" and disposition._forbidden(case):
            continue
        text = advice.write(code, case)
        assert ("Nothing else was detected" in text) == (code == "keep" and what == "none-detected")
        assert "Nothing points to" not in text
        if code == "keep":
            assert ("not ruled out" in text) == (what == "undecided")
        assert "this refrigerant" not in text
        if code not in ("hold", "measure-again") and WHO[who]:
            assert WHO[who][0] in text
        if label is not None and label not in WHO[who]:
            assert f"The label says {label}, and these readings contradict it" in text
