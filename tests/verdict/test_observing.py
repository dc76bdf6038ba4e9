import numpy as np
import pytest

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.verdict.engine import VerdictEngine
from service.verdict.errors import InvalidEvidence
from service.verdict.model import CylinderFacts, Pair
from service.verdict.observations import Composition, Observations

TEMP_K = 297.15


@pytest.fixture(scope="module")
def engine():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def clean(designation):
    pressure = float(load_curves().bubble_pressure_pa(designation, TEMP_K))
    return Pair(TEMP_K, pressure, 0.1, 2e3, 0.3, 3e3, 0.0025)


def facts(label=None, **seen):
    return CylinderFacts(claimed_designation=label, observations=Observations(**seen))


def chance(engine, found, designation):
    return float(found.identity[engine.space.designations.index(designation)])


def flammable(engine, found):
    return float(found.identity[engine.observed.sounds >= 0.9].sum())


def test_nothing_observed_changes_nothing(engine):
    pair = clean("R-134a")
    assert np.allclose(engine.infer([pair]).rows, engine.infer([pair], facts()).rows)


def test_everything_still_sums_to_one(engine):
    seen = {
        "combustible_gas": True,
        "compositions": (Composition({"R-134a": 0.9, "R-290": 0.1}, 0.02, 0.95),),
    }
    found = engine.infer([clean("R-134a")], facts(**seen))
    assert found.identity.sum() + found.something_else == pytest.approx(1.0, abs=1e-4)


def test_the_detector_moves_flammable_contents_by_its_own_odds(engine):
    pair = clean("R-290")
    odds = {}
    for sounded in (True, False):
        found = engine.infer([pair], facts(combustible_gas=sounded))
        odds[sounded] = chance(engine, found, "R-290") / found.something_else
    assert odds[True] / odds[False] == pytest.approx((0.95 / 0.5) / (0.05 / 0.5), rel=0.3)


def test_a_sound_makes_flammable_likelier_and_silence_rules_nothing_out(engine):
    pair = clean("R-22")
    plain, sounded, silent = (
        flammable(engine, engine.infer([pair], facts(combustible_gas=seen))) for seen in (None, True, False)
    )
    assert sounded > plain > silent > 0.0


def test_gas_that_the_contents_do_not_explain_is_never_kept(engine):
    said = engine.verdict([clean("R-134a")], facts("R-134a", combustible_gas=True))
    assert said.disposition.code not in ("keep", "recover-and-recycle")
    assert "treat it as flammable" in " ".join(said.cautions)
    quiet = engine.verdict([clean("R-134a")], facts("R-134a", combustible_gas=False))
    assert quiet.disposition.code == "keep"
    assert "treat it as flammable" not in " ".join(quiet.cautions)


def test_a_sound_for_a_hydrocarbon_is_explained(engine):
    said = engine.verdict([clean("R-290")], facts("R-290", combustible_gas=True))
    assert "R-290 explains that" in " ".join(said.reasons)


def test_a_composition_names_what_pressure_confuses(engine):
    """R-12 at 24 °C stands within 3 % of R-134a; the label says R-134a."""
    pair = clean("R-12")
    before = chance(engine, engine.infer([pair], facts("R-134a")), "R-12")
    found = (Composition({"R-12": 0.99}, 0.02, 0.95), Composition({"R-12": 0.995}, 0.003, 0.98))
    one = chance(engine, engine.infer([pair], facts("R-134a", compositions=found[:1])), "R-12")
    both = chance(engine, engine.infer([pair], facts("R-134a", compositions=found)), "R-12")
    assert before < one < both
    assert both > 0.9


def test_a_blend_is_known_by_its_parts(engine):
    found = (Composition({"R-32": 0.5, "R-125": 0.5}, 0.02, 0.95),)
    said = engine.verdict([clean("R-410A")], facts(compositions=found))
    assert said.identity.candidates[0].designation == "R-410A"
    assert "which is what R-410A is made of" in " ".join(said.reasons)


def test_a_mixture_is_told_by_its_share(engine):
    found = (Composition({"R-134a": 0.8, "R-22": 0.2}, 0.01, 0.98),)
    space = engine.space
    share = int(np.abs(space.share.nodes - 0.2).argmin())
    row = space.row("mixed", space.designations.index("R-134a"), space.contaminants.index("R-22"), share)
    pressure = float(np.exp(space.log_pressure(np.array([TEMP_K]), [row])[0, 0]))
    pair = Pair(TEMP_K, pressure, 0.1, 2e3, 0.3, 3e3, 0.0025)
    plain = engine.infer([pair], facts("R-134a"))
    seen = engine.infer([pair], facts("R-134a", compositions=found))
    assert seen.contamination["mixed"] > max(0.8, plain.contamination["mixed"])
    told = engine.verdict([pair], facts("R-134a", compositions=found)).contamination.partners[0]
    assert {told.designation, told.contaminant} == {"R-134a", "R-22"}


def test_a_wrong_composition_does_not_overrule_readings_that_rule_it_out(engine):
    found = (Composition({"R-404A": 1.0}, 0.003, 0.98),)
    seen = engine.infer([clean("R-134a")], facts("R-134a", compositions=found))
    assert chance(engine, seen, "R-134a") > 0.9


@pytest.mark.parametrize(
    ("composition", "field"),
    [
        (Composition({"R-22": 1.2}, 0.02, 0.95), "compositions.0.mass_fractions.R-22"),
        (Composition({"R-22": 0.2}, 0.02, 0.95), "compositions.0.mass_fractions"),
        (Composition({"R-22": 1.0}, 0.0, 0.95), "compositions.0.uncertainty"),
        (Composition({"R-22": 1.0}, 0.02, 1.0), "compositions.0.trust"),
        (Composition({"R-9999": 1.0}, 0.02, 0.95), "compositions.0.mass_fractions"),
    ],
)
def test_impossible_compositions_are_named(engine, composition, field):
    with pytest.raises(InvalidEvidence) as refused:
        engine.infer([clean("R-22")], facts(compositions=(composition,)))
    assert refused.value.field == field
