import numpy as np
import pytest

from service.verdict import chebyshev, curve_likelihood, likelihood, row_groups
from service.verdict.evidence import build
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts, Pair
from service.verdict.row_priors import row_priors

COMMON_SLOPE = 0.05
"""Relative error of a log-likelihood ratio from giving all curves one profile of slope over temperature."""


def brute_force(space, evidence, rows):
    values = []
    for row in rows:
        slopes = space.slope(evidence.temp_k, [row])[0]
        residual = evidence.log_pressure - space.log_pressure(evidence.temp_k, [row])[0]
        covariance = evidence.covariance(slopes, float(space.variance[row]))
        _, log_det = np.linalg.slogdet(covariance)
        values.append(
            -0.5 * (residual @ np.linalg.solve(covariance, residual) + log_det - evidence.log_det_pressure)
        )
    return np.array(values)


def log_likelihood(space, evidence):
    found = likelihood.of_rows(space, evidence, np.arange(space.size), np.zeros(space.size, dtype=np.float32))
    with np.errstate(divide="ignore"):
        return np.log(found.weight.astype(float)) + found.log_scale


@pytest.mark.parametrize("temps", [(298.15,), (290.0, 305.0), (284, 288, 292, 296, 300, 304, 308, 312)])
def test_all_rows_agree_with_brute_force(engine, at, temps):
    evidence = build(condense([at("R-22", t, 1.002) for t in temps]))
    found = log_likelihood(engine.space, evidence)
    best = float(found.max())
    likely = np.flatnonzero(found > best - 12)[::7]
    exact = brute_force(engine.space, evidence, likely)
    assert likely.size > 20
    assert (np.abs(found[likely] - exact) <= 0.02 + COMMON_SLOPE * (best - exact)).all()


@pytest.mark.parametrize("name", ["R-22", "R-407C"])
def test_what_is_ruled_out_holds_nothing(engine, at, name):
    evidence = build(condense([at(name, t, 0.97) for t in (285.0, 295.0, 305.0)]))
    found = log_likelihood(engine.space, evidence)
    best = float(found.max())
    ruled_out = np.flatnonzero(found == -np.inf)[::2]
    exact = brute_force(engine.space, evidence, ruled_out)
    assert ruled_out.size > 1000
    lost = 2 * np.exp(exact - best).sum()
    assert lost < row_groups.NEGLIGIBLE * np.exp(found - best).sum()


@pytest.mark.parametrize("temps", [(298.15,), (284.0, 298.0, 312.0)])
@pytest.mark.parametrize("factor", [0.97, 1.0, 1.3, 4.0])
def test_groups_that_are_left_out_hold_nothing(engine, at, temps, factor):
    space, facts = engine.space, CylinderFacts()
    evidence = build(condense([at("R-407C", t, factor) for t in temps]))
    weights = engine.fill.weights(facts), engine.observed.weights(facts.observations)
    tables = row_priors(space, evidence, engine.book.priors(facts, "field"), *weights)
    found = likelihood.two_phase(space, engine.groups, evidence, tables)
    priors = [tables[name].first + tables[name].second for name in space.blocks]
    shapes = [block.shape for block in space.blocks.values()]
    flat = [np.broadcast_to(p, shape).ravel() for p, shape in zip(priors, shapes, strict=True)]
    prior = np.concatenate(flat).astype(np.float32)
    every = likelihood.of_rows(space, evidence, np.arange(space.size), prior)
    same = np.zeros(space.size)
    same[found.rows] = found.weight * np.exp(found.log_scale - every.log_scale)
    assert np.abs(same - every.weight).sum() < row_groups.NEGLIGIBLE * every.weight.sum()
    assert found.rows.size < 0.6 * space.size


def test_contradictory_pairs_are_still_evaluated(engine, at):
    evidence = build([at("R-22", 290.0), at("R-134a", 310.0)])
    found = log_likelihood(engine.space, evidence)
    best = int(found.argmax())
    assert found[best] == pytest.approx(brute_force(engine.space, evidence, [best])[0], rel=COMMON_SLOPE)


@pytest.mark.parametrize("temps", [(298.15,), (284.0, 298.0, 312.0)])
def test_curves_that_the_first_pair_rules_out_hold_nothing(engine, at, temps):
    space, evidence = engine.space, build(condense([at("R-22", t, 0.9) for t in temps]))
    rows = np.arange(0, space.size, 97)
    pressures, slopes = space.log_pressure(evidence.temp_k, rows), space.slope(evidence.temp_k, rows)
    variance = space.variance[rows].astype(float)
    kept = curve_likelihood.not_ruled_out(evidence, pressures[:, 0], slopes[:, 0], variance)
    exact = brute_force(space, evidence, rows)
    assert 0 < kept.size < 0.9 * rows.size
    assert np.delete(exact, kept).max() < exact.max() - curve_likelihood.FAR / 2


def test_the_mean_of_exponentials_is_taken_where_they_would_overflow_or_vanish():
    values = np.array([[1000.0, 1000.0 + np.log(3.0)], [-1e4, -1e4], [-np.inf, -np.inf]])
    assert curve_likelihood.log_mean(values) == pytest.approx([1000.0 + np.log(2.0), -1e4, -np.inf])


def test_rows_that_all_fit_badly_are_told_apart_as_in_double_precision(engine):
    space, temps = engine.space, (275.0, 283.0, 291.0, 299.0, 307.0, 315.0)
    pressures = (1.0e6, 1.1e6, 1.3e6, 1.7e6, 2.0e6, 2.2e6)
    told = (0.1, 2e3, 0.3, 3e3, 0.005)
    evidence = build([Pair(t, p, *told) for t, p in zip(temps, pressures, strict=True)])
    found = log_likelihood(space, evidence)
    likely = np.flatnonzero(found > found.max() - 80)
    curves = space.coefficients[likely].astype(float) + space.reference
    residual = evidence.log_pressure - curves @ chebyshev.values(evidence.temp_k)
    slope = curves @ chebyshev.slopes(evidence.temp_k) @ evidence.slope_projection()
    whitened = np.ascontiguousarray((residual @ evidence.whitening).T)
    exact = curve_likelihood.gaussian(evidence, whitened, slope, space.variance[likely].astype(float))
    assert exact.max() < -100 and likely.size > 20
    assert found[likely] - found.max() == pytest.approx(exact - exact.max(), abs=1e-5)
