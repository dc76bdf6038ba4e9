import pytest

from service.verdict.model import CylinderFacts


def test_every_term_is_told(engine, at):
    pairs = [at("R-22", 290.0, 1.01), at("R-22", 305.0, 1.01)]
    told = engine.verdict(pairs, CylinderFacts(claimed_designation="R-22"), explain=True).explain
    assert told.prior_kind == "field"
    assert "memory" in told.prior_source
    assert sum(told.designation_priors.values()) == pytest.approx(1.0, abs=0.01)
    assert sum(v for k, v in told.state_priors.items() if k != "something-else") == pytest.approx(1.0)
    first = told.terms[0]
    assert len(first.residuals_k) == len(first.log_likelihood_per_pair) == 2
    assert all(a.posterior >= b.posterior for a, b in zip(told.terms, told.terms[1:], strict=False))


def test_a_residual_in_kelvin_is_what_the_thermometer_would_be_off(engine, at):
    told = engine.verdict([at("R-22", factor=1.028)], explain=True).explain
    alone = next(t for t in told.terms if t.designation == "R-22" and t.state == "none")
    assert alone.residuals_k[0] == pytest.approx(1.0, abs=0.1)


def test_it_is_not_there_unless_asked(engine, at):
    assert engine.verdict([at("R-22")]).explain is None
