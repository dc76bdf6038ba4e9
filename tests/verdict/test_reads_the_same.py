import json

import numpy as np
import pytest

from service.store.artefacts import load_catalogue, load_curves, load_look_alikes, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict import chebyshev, document, reads_the_same
from service.verdict.engine import VerdictEngine
from service.verdict.errors import InvalidEvidence
from service.verdict.look_alike_book import HAZARDS
from service.verdict.model import CylinderFacts, Pair
from service.verdict.observations import Composition, LiquidLevel, Observations

GOOD = (0.1, 2e3, 0.3, 3e3, 0.0025)
FLAMMABLE = ("highly-flammable", "flammable", "mildly-flammable")


@pytest.fixture(scope="module")
def shipped():
    tables = (load_curves(), load_surfaces(), load_catalogue(), load_prevalence())
    return VerdictEngine(*tables, look_alikes=load_look_alikes())


def read(engine, holds, label, *temps_k, seen=None, provenance="unknown"):
    curves = load_curves()
    pairs = [Pair(t, float(curves.bubble_pressure_pa(holds, t)), *GOOD) for t in temps_k]
    facts = CylinderFacts(
        claimed_designation=label, observations=seen or Observations(), provenance=provenance
    )
    return engine.verdict(pairs, facts)


def parts(verdict, hazard):
    groups = [group for group in verdict.reads_the_same.groups if group.hazard == hazard]
    return {name for group in groups for example in group.examples for name in example.mass_fractions}


def test_agreement_with_a_label_is_followed_by_what_else_agrees(shipped):
    verdict = read(shipped, "R-134a", "R-134a", 297.15)
    agree = next(i for i, line in enumerate(verdict.reasons) if line.endswith("and the readings agree."))
    assert verdict.reasons[agree + 1].startswith("The readings agree just as well with (toxic): ")
    assert "R-40" in parts(verdict, "toxic")
    assert verdict.reads_the_same.designation == "R-134a"
    order = [HAZARDS.index(group.hazard) for group in verdict.reads_the_same.groups]
    assert order == sorted(order)


def test_what_nobody_vouches_for_is_cautioned(shipped):
    verdict = read(shipped, "R-134a", "R-134a", 297.15)
    assert verdict.disposition.code == "keep"
    assert verdict.reads_the_same.loud
    assert verdict.cautions[0].startswith("Not excluded by these readings: toxic contents such as")
    assert "read the cautions first" in verdict.disposition.text


@pytest.mark.parametrize("provenance", ["maker", "records"])
def test_what_somebody_vouches_for_is_quiet_but_said(shipped, provenance):
    verdict = read(shipped, "R-134a", "R-134a", 297.15, provenance=provenance)
    assert not verdict.reads_the_same.loud
    assert not any("Not excluded" in line for line in verdict.cautions)
    assert sum("agree just as well" in line for line in verdict.reasons) == 1


def test_ammonia_reads_like_r22_where_the_curves_cross_and_nowhere_else(shipped):
    crossing = read(shipped, "R-717", "R-22", 311.15)
    assert "R-717" in parts(crossing, "toxic")
    toxic = next(group for group in crossing.reads_the_same.groups if group.hazard == "toxic")
    assert "other-temperature" in toxic.told_by
    apart = read(shipped, "R-22", "R-22", 283.15, 311.15)
    assert "R-717" not in parts(apart, "toxic")


def test_a_silent_detector_excludes_what_it_would_have_heard(shipped):
    loud = read(shipped, "R-22", "R-22", 298.15)
    assert {"R-290"} & parts(loud, "highly-flammable") or parts(loud, "highly-flammable")
    silent = read(shipped, "R-22", "R-22", 298.15, seen=Observations(combustible_gas=False))
    assert not parts(silent, "highly-flammable")
    assert not parts(silent, "flammable")


def test_a_measured_composition_ends_it(shipped):
    found = Composition({"R-134a": 1.0}, 0.02, 0.95)
    verdict = read(shipped, "R-134a", "R-134a", 297.15, seen=Observations(compositions=(found,)))
    assert verdict.reads_the_same.groups == ()
    assert not verdict.reads_the_same.loud


def test_nothing_reads_the_same_as_what_is_not_recognised(shipped):
    verdict = shipped.verdict([Pair(298.15, 1.9e7, *GOOD)])
    assert verdict.reads_the_same is None


def test_it_is_kept_with_the_verdict_and_older_verdicts_have_none(shipped):
    verdict = read(shipped, "R-134a", "R-134a", 297.15)
    kept = json.loads(json.dumps(document.to_json(verdict)))
    assert document.from_json(kept).reads_the_same == verdict.reads_the_same
    del kept["reads_the_same"]
    assert document.from_json(kept).reads_the_same is None


def test_words_for_every_hazard_and_every_test():
    assert set(reads_the_same._HAZARD_WORDS) == set(HAZARDS)
    assert set(reads_the_same._TOLD_WORDS) == set(reads_the_same.TOLD_BY)


def test_a_liquid_level_with_weight_tells_hydrocarbons_by_their_density(shipped):
    """A 21.6 L cylinder 40 % full: of R-22 it weighs 10.7 kg, of R-290 at nearly the same pressure 4.5 kg."""
    level = Observations(liquid=LiquidLevel(0.4, 0.05))
    pair = Pair(298.15, float(load_curves().bubble_pressure_pa("R-290", 298.15)), 0.5, 2e4, 0.5, 2e4)
    told = {}
    for net_kg in (10.7, 4.5):
        facts = CylinderFacts(water_volume_m3=21.6e-3, net_mass_kg=net_kg, observations=level)
        found = shipped.infer([pair], facts)
        told[net_kg] = [found.identity[shipped.space.designations.index(name)] for name in ("R-22", "R-290")]
    assert told[10.7][0] > 10 * told[10.7][1]
    assert told[4.5][1] > 10 * told[4.5][0]


def test_a_level_without_weight_says_that_there_is_liquid(shipped):
    pair = Pair(298.15, 400e3, 0.3, 5e3)
    blind = shipped.infer([pair])
    seen = shipped.infer([pair], CylinderFacts(observations=Observations(liquid=LiquidLevel(0.4, 0.05))))
    assert seen.by_state["vapour-only"].sum() < 0.2 * blind.by_state["vapour-only"].sum()


@pytest.mark.parametrize("level", [LiquidLevel(1.2, 0.05), LiquidLevel(0.4, 0.0)])
def test_a_level_that_no_cylinder_has_is_refused(shipped, level):
    with pytest.raises(InvalidEvidence, match=r"liquid\."):
        shipped.infer([Pair(298.15, 400e3, 0.3, 5e3)], CylinderFacts(observations=Observations(liquid=level)))


@pytest.mark.parametrize(("fraction", "said"), [(0.43, ", as its weight asks of R-22"), (0.9, "and not as")])
def test_a_level_is_compared_with_what_the_weight_asks(shipped, fraction, said):
    pair = Pair(298.15, float(load_curves().bubble_pressure_pa("R-22", 298.15)), *GOOD)
    seen = Observations(liquid=LiquidLevel(fraction, 0.05))
    facts = CylinderFacts(21.6e-3, 11.0, "R-22", observations=seen)
    assert said in shipped.verdict([pair], facts).reasons[0]


def test_no_mixture_reads_the_same_whose_parts_all_lie_far_below(shipped):
    """Carbon dioxide at 42 bar was said to read like R-22 with dimethyl ether."""
    verdict = read(shipped, "R-744", "R-744", 280.3)
    reading = float(load_curves().bubble_pressure_pa("R-744", 280.3))
    for group in verdict.reads_the_same.groups:
        for one in group.examples:
            highest = max(float(load_curves().bubble_pressure_pa(p, 280.3)) for p in one.mass_fractions)
            assert highest > 0.5 * reading or np.isnan(highest)
    assert np.sqrt(shipped.look_alikes.fixed.variance).max() < 0.1


@pytest.mark.parametrize("temps_k", [(297.15,), (297.15, 311.15)])
def test_what_is_named_lies_near_the_reading(shipped, temps_k):
    """A step of a tenth from one content to the next is worth some per cent, never the whole range of pressures."""
    rows = shipped.look_alikes.fixed
    assert 0.0 < float(rows.variance.max()) ** 0.5 < 0.1
    at = chebyshev.values(np.array(temps_k))
    verdict = read(shipped, "R-22", "R-22", *temps_k)
    by_parts = {}
    for row, which in enumerate(rows.which):
        by_parts.setdefault(rows.sets[which], []).append(rows.coefficients[:, row] @ at)
    own = np.log([float(load_curves().bubble_pressure_pa("R-22", t)) for t in temps_k])
    named = [one for group in verdict.reads_the_same.groups for one in group.examples]
    known = [by_parts[key] for one in named if (key := tuple(one.mass_fractions)) in by_parts]
    assert len(known) > 10
    assert all(min(float(np.abs(curve - own).max()) for curve in curves) < 0.15 for curves in known)


def test_a_mixture_of_another_pressure_is_not_named(shipped):
    verdict = read(shipped, "R-11", "R-11", 297.15)
    named = {tuple(one.mass_fractions) for group in verdict.reads_the_same.groups for one in group.examples}
    assert not {key for key in named if "R-744" in key}
