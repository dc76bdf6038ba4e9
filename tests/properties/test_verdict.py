"""What must hold for any readings, whatever they are."""

import dataclasses
import json

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from service.store.artefacts import load_catalogue, load_curves, load_surfaces
from service.store.prevalence import load_prevalence
from service.units import pa_from_psi, psi_from_pa
from service.verdict import curve_likelihood, evidence, likelihood
from service.verdict.engine import VerdictEngine
from service.verdict.errors import InvalidEvidence
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts, Pair

COMMON = ("R-22", "R-134a", "R-410A", "R-404A", "R-407C", "R-12", "R-32", "R-454B", "R-123", "R-290")
SOME = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

temps = st.floats(283.15, 318.15)
ratios = st.floats(0.2, 3.0)
uncertainties = st.fixed_dictionaries(
    {
        "temp_noise_k": st.floats(0.01, 1.0),
        "temp_bias_k": st.floats(0.0, 1.0),
        "pressure_noise_pa": st.floats(100.0, 1e4),
        "pressure_bias_pa": st.floats(0.0, 1e4),
        "gain_bias": st.floats(0.0, 0.02),
        "atmosphere_bias_pa": st.floats(0.0, 5e3),
    }
)


@pytest.fixture(scope="module")
def engine():
    return VerdictEngine(load_curves(), load_surfaces(), load_catalogue(), load_prevalence())


def clean(designation, temp_k, ratio=1.0, **uncertainty):
    pressure = float(load_curves().bubble_pressure_pa(designation, temp_k))
    return Pair(temp_k, pressure * ratio, **uncertainty)


pairs = st.builds(
    lambda name, temp, ratio, uncertainty: clean(name, temp, ratio, **uncertainty),
    st.sampled_from(COMMON),
    temps,
    ratios,
    uncertainties,
)


@SOME
@given(st.lists(pairs, min_size=2, max_size=6), st.randoms(use_true_random=False))
def test_order_never_matters(engine, given_pairs, random):
    shuffled = list(given_pairs)
    random.shuffle(shuffled)
    first, second = engine.infer(given_pairs), engine.infer(shuffled)
    assert np.abs(first.identity - second.identity).max() < 1e-5
    assert engine.verdict(given_pairs).contamination.finding == engine.verdict(shuffled).contamination.finding


@SOME
@given(st.lists(pairs, min_size=1, max_size=4), st.sampled_from(["field", "flat"]))
def test_probabilities_sum_to_one(engine, given_pairs, prior):
    found = engine.infer(given_pairs, prior=prior)
    assert found.identity.sum() + found.something_else == pytest.approx(1.0, abs=1e-4)
    verdict = engine.verdict(given_pairs, prior=prior)
    assert sum(verdict.contamination.probabilities.values()) == pytest.approx(1.0, abs=1e-6)
    assert sum(verdict.contents_state.probabilities.values()) == pytest.approx(1.0, abs=1e-6)
    assert sum(c.probability for c in verdict.identity.candidates) <= 1.0 + 1e-6


@SOME
@given(
    st.sampled_from(COMMON),
    temps,
    uncertainties,
    st.sampled_from(["temp_noise_k", "temp_bias_k", "pressure_noise_pa", "pressure_bias_pa", "gain_bias"]),
    st.floats(1.5, 5.0),
)
def test_widening_an_uncertainty_never_makes_a_verdict_surer(engine, name, temp, uncertainty, which, factor):
    """On a clean curve, where nothing but the width changes: its probability and every limit go one way."""
    index = engine.space.designations.index(name)
    fine = clean(name, temp, **uncertainty)
    coarse = dataclasses.replace(fine, **{which: getattr(fine, which) * factor + 1e-4})
    sure, unsure = engine.infer([fine]), engine.infer([coarse])
    assert unsure.by_state["none"][index] <= sure.by_state["none"][index] + 0.02
    before = {x.contaminant: x for x in engine.verdict([fine]).contamination.detection_limits}
    after = {x.contaminant: x for x in engine.verdict([coarse]).contamination.detection_limits}
    if (
        engine.verdict([fine]).identity.candidates[0].designation
        == name
        == (engine.verdict([coarse]).identity.candidates[0].designation)
    ):
        for contaminant, limit in after.items():
            finer = before[contaminant]
            if limit.mass_fraction is not None:
                assert finer.mass_fraction is not None
                assert finer.mass_fraction <= limit.mass_fraction * 1.001
            if limit.partial_pressure_pa is not None:
                assert finer.partial_pressure_pa <= limit.partial_pressure_pa * 1.001


@SOME
@given(st.sampled_from(COMMON), st.sampled_from(COMMON), temps)
def test_a_claim_never_beats_decisive_evidence(engine, truth, claim, temp):
    fine = {"temp_noise_k": 0.03, "temp_bias_k": 0.1, "pressure_noise_pa": 300.0, "pressure_bias_pa": 300.0}
    curves = load_curves()
    there = float(curves.bubble_pressure_pa(truth, temp))
    full, empty = float(curves.bubble_pressure_pa(claim, temp)), float(curves.dew_pressure_pa(claim, temp))
    # A clean blend stands anywhere between its bubble and its dew curve, according to how much liquid is left.
    assume(max(np.log(there / full), np.log(empty / there)) > 0.15)
    facts = CylinderFacts(claimed_designation=claim, claim_reliability=1.0)
    found = engine.infer([clean(truth, temp, **fine)], facts)
    assert found.by_state["none"][engine.space.designations.index(claim)] < 1e-6


@settings(SOME, max_examples=150)
@given(
    st.lists(pairs, min_size=1, max_size=3),
    st.sampled_from(load_curves().designations),
    st.floats(0.0, 1.0),
    st.sampled_from(["field", "flat"]),
)
def test_finding_text_and_disposition_agree(engine, given_pairs, label, reliability, prior):
    """Whatever is read and whatever the label says: a label that the readings rule out is never kept."""
    facts = CylinderFacts(claimed_designation=label, claim_reliability=reliability)
    for verdict in (
        engine.verdict(given_pairs, facts, prior=prior),
        engine.verdict(given_pairs, prior=prior),
    ):
        said = " ".join((verdict.disposition.text, *verdict.reasons))
        assert ("Nothing else was detected" in said) == (verdict.contamination.finding == "none-detected")
        assert "this refrigerant" not in said
        if verdict.contamination.finding in ("air", "shifted", "mixed"):
            assert verdict.disposition.code != "keep"
        if verdict.disposition.code == "keep":
            undecided = verdict.contamination.finding == "undecided"
            assert ("is not ruled out" in verdict.disposition.text) == undecided
        if verdict.claim is None:
            continue
        believed = {c.designation for c in verdict.identity.candidates}
        if label not in believed or verdict.claim.probability < 0.02:
            assert verdict.claim.finding == "contradicted"
            assert verdict.disposition.code != "keep"
            assert f"The label says {label}, and the" in said
        if verdict.disposition.code == "keep":
            assert f"Keep in use as {label}." in verdict.disposition.text


@SOME
@given(st.sampled_from(COMMON), temps, ratios, uncertainties, st.floats(70e3, 103e3))
def test_units_and_gauge_against_absolute_agree(engine, name, temp, ratio, uncertainty, atmosphere_pa):
    absolute = clean(name, temp, ratio, **uncertainty)
    gauge_psi = psi_from_pa(absolute.pressure_pa - atmosphere_pa)
    back = dataclasses.replace(absolute, pressure_pa=pa_from_psi(gauge_psi) + atmosphere_pa)
    first, second = engine.infer([absolute]), engine.infer([back])
    assert np.abs(first.identity - second.identity).max() < 1e-4


@SOME
@given(
    st.floats(allow_nan=True, allow_infinity=True),
    st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from([1e-3, 0.3, 50.0]),
)
def test_hostile_numbers_are_refused_or_unrecognised(engine, temp, pressure, spread):
    """Anything at all: a refusal that names the field, or an answer that is whole."""
    pair = Pair(temp, pressure, spread, 1e3, spread, 1e3)
    try:
        verdict = engine.verdict([pair])
    except InvalidEvidence as refusal:
        assert refusal.field.startswith("pairs.0.")
        assert refusal.expected
        return
    assert verdict.reasons and verdict.cautions
    json.dumps(dataclasses.asdict(verdict), allow_nan=False)


@pytest.mark.parametrize("temp_k", [0.0, 473.15, 200.0, 400.0, -1.0, float("nan")])
def test_temperatures_that_no_curve_covers_are_refused(engine, temp_k):
    with pytest.raises(InvalidEvidence, match=r"pairs\.0\.temp_k"):
        engine.verdict([Pair(temp_k, 1e6, 0.1, 1e3)])


@pytest.mark.parametrize("pressure_pa", [0.0, -1e5, 1e8, float("inf")])
def test_pressures_that_no_gauge_shows_are_refused(engine, pressure_pa):
    with pytest.raises(InvalidEvidence, match=r"pairs\.0\.pressure_pa"):
        engine.verdict([Pair(298.15, pressure_pa, 0.1, 1e3)])


@pytest.mark.parametrize("pressure_pa", [8e6, 1.2e7, 1.9e7])
def test_far_above_every_curve_is_dangerous_and_never_identified(engine, pressure_pa):
    verdict = engine.verdict([Pair(298.15, pressure_pa, 0.1, 1e3, 0.3, 3e3)])
    assert verdict.identity.finding != "identified"
    assert verdict.disposition.code == "hold"
    assert verdict.cautions[0].startswith("Danger")


@SOME
@given(st.floats(1.0, 20.0))
def test_contradictory_pairs_are_unrecognised(engine, apart_k):
    """Warmer by some kelvin, yet at a third of the pressure: no contents do that."""
    fine = {"temp_noise_k": 0.1, "temp_bias_k": 0.2, "pressure_noise_pa": 1e3, "pressure_bias_pa": 1e3}
    warm = clean("R-410A", 290.15, **fine)
    lower = Pair(290.15 + apart_k, warm.pressure_pa / 3, **fine)
    verdict = engine.verdict([warm, lower])
    assert verdict.identity.finding == "unrecognised"
    assert verdict.contamination.finding == "undecided"
    assert verdict.disposition.code != "keep"


@pytest.mark.parametrize("name", ["R-410A", "R-404A", "R-454B", "R-22", "R-134a"])
def test_a_clean_cylinder_can_be_called_clean(engine, name):
    """A good instrument, two readings and a right label are enough for the commonest."""
    fine = {"temp_noise_k": 0.05, "temp_bias_k": 0.1, "pressure_noise_pa": 300.0, "pressure_bias_pa": 300.0}
    readings = [clean(name, temp, gain_bias=0.0025, **fine) for temp in (290.15, 308.15)]
    verdict = engine.verdict(readings, CylinderFacts(claimed_designation=name))
    assert verdict.contamination.finding == "none-detected"
    assert verdict.disposition.code == "keep"


@SOME
@given(st.lists(pairs, min_size=1, max_size=5), st.integers(0, 2**32 - 1))
def test_no_row_is_likelier_than_the_bound_of_its_group(engine, given_pairs, seed):
    space, groups = engine.space, engine.groups
    built = evidence.build(condense(given_pairs))
    rows = np.random.default_rng(seed).choice(space.size, size=20_000, replace=False)
    residual = built.log_pressure - space.log_pressure(built.temp_k, rows)
    slope = space.slope(built.temp_k, rows) @ built.slope_projection()
    variance = space.variance[rows].astype(float)
    exact = curve_likelihood.gaussian(built, (residual @ built.whitening).T, slope, variance)
    group = np.repeat(np.arange(groups.size.size), groups.size.astype(int))[rows]
    bound = likelihood.bounds(space, groups, built)[group]
    assert (exact <= bound + 1e-3 + 1e-4 * np.abs(bound)).all()
