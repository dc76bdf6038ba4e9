"""The posterior is calibrated: hypotheses drawn from the prior, readings from the likelihood, fixed seeds.

Small samples, so that every run guards it; the truth machine in `tests/benchmarks` measures it at length, against
direct flashes and brute force.
"""

import numpy as np
import pytest

from service.verdict.contamination import _finding
from service.verdict.evidence import build
from service.verdict.merge_replicates import condense
from service.verdict.model import CylinderFacts, Pair
from service.verdict.row_priors import row_priors

CYLINDERS = 500
BIAS_K, GAIN, NOISE_PA = 0.3, 0.005, 1e3
NOTHING = CylinderFacts()


def drawn(engine, rng, temps):
    """Readings of two-phase cylinders drawn row by row from the prior; the row each came from."""
    space = engine.space
    pair = Pair(298.15, 1e6, 0.05, NOISE_PA)
    priors, fill = engine.book.priors(NOTHING, "field"), engine.fill.weights(NOTHING)
    seen = engine.observed.weights(NOTHING.observations)
    tables = row_priors(space, build([pair]), priors, fill, seen)
    log_prior = np.concatenate(
        [
            np.broadcast_to(tables[name].first + tables[name].second, block.shape).ravel()
            for name, block in space.blocks.items()
        ]
    )
    weights = np.exp(log_prior - log_prior.max())
    for row in rng.choice(space.size, size=CYLINDERS, p=weights / weights.sum()):
        spread = float(np.sqrt(space.variance[row]))
        true = np.exp(space.log_pressure(temps, [int(row)])[0] + rng.normal(0, spread))
        shown = true * (1 + rng.normal(0, GAIN)) + rng.normal(0, NOISE_PA, temps.size)
        read = temps + rng.normal(0, BIAS_K) + rng.normal(0, 0.05, temps.size)
        yield (
            int(row),
            [
                Pair(float(t), float(p), 0.05, NOISE_PA, BIAS_K, 0.0, GAIN)
                for t, p in zip(read, shown, strict=True)
            ],
        )


@pytest.fixture(scope="module", params=[(298.15,), (290.0, 305.0)], ids=["one pair", "two pairs"])
def cases(request, engine):
    rng = np.random.default_rng(20)
    space = engine.space
    found = []
    for row, pairs in drawn(engine, rng, np.array(request.param)):
        result = engine.infer(pairs)
        state = list(space.blocks)[space.row_state[row]]
        found.append((int(space.row_designation[row]), state, result))
    return found


def test_the_95_percent_set_covers(cases, engine):
    covered = []
    for truth, _, found in cases:
        order = np.argsort(-found.identity)
        size = int(np.searchsorted(np.cumsum(found.identity[order]), 0.95 * found.identity.sum())) + 1
        covered.append(truth in order[:size])
    assert 0.93 <= np.mean(covered) <= 0.995


def test_stated_probabilities_come_true(cases):
    stated = np.array([found.identity.max() for _, _, found in cases])
    right = np.array([found.identity.argmax() == truth for truth, _, found in cases])
    standard_error = np.sqrt((stated * (1 - stated)).sum()) / stated.size
    assert abs(stated.mean() - right.mean()) < 3 * standard_error
    sure = stated > 0.9
    assert (
        right[sure].mean()
        > stated[sure].mean() - 3 * np.sqrt((stated * (1 - stated))[sure].sum()) / sure.sum()
    )


def test_contamination_is_calibrated(cases):
    stated = np.array([1 - found.contamination["none"] for _, _, found in cases])
    true = np.array([state != "none" for _, state, _ in cases])
    standard_error = np.sqrt((stated * (1 - stated)).sum()) / stated.size
    assert abs(stated.mean() - true.mean()) < 3 * standard_error


def test_clean_is_seldom_called_contaminated(cases, engine):
    called = [
        _finding(found.contamination, engine.settings) in ("air", "shifted", "mixed")
        for _, state, found in cases
        if state == "none"
    ]
    assert np.mean(called) <= 0.02


def test_condensing_keeps_what_two_readings_of_one_state_say(engine, at):
    pairs = [at("R-22", 298.15, 1.001), at("R-22", 298.35, 1.001)]
    assert len(condense(pairs)) == 1
