import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.verdict.instruments.mixture import KEPT, Measurement, Mixture, reduced, update

COV = np.diag([0.09, 1e6, 2.5e-5])


def prior(weight=(1.0,), mean=((0.0, 0.0, 0.0),)):
    return Mixture(np.array(weight), np.array(mean, dtype=float), np.array([COV] * len(weight)))


def seen(values, weights, *, unexplained=0.0, variance=0.01):
    k = len(values)
    return Measurement(
        np.array(weights),
        np.array(values, dtype=float),
        np.full(k, variance),
        np.tile([1.0, 0.0, 0.0], (k, 1)),
        unexplained,
    )


def test_one_certain_explanation_is_the_textbook_update():
    after, explained = update(prior(), seen([0.5], [1.0]))
    mean, cov = after.moments
    assert mean[0] == pytest.approx(0.5 * 0.09 / 0.10)
    assert cov[0, 0] == pytest.approx(1 / (1 / 0.09 + 1 / 0.01))
    assert cov[1, 1] == pytest.approx(1e6)
    assert explained == pytest.approx([1.0, 0.0])


def test_two_explanations_weigh_by_how_well_they_fit():
    _, explained = update(prior(), seen([0.0, 1.0], [0.5, 0.5]))
    ratio = np.exp(0.5 * 1.0 / 0.10)
    assert explained[0] / explained[1] == pytest.approx(ratio)


def test_a_reading_that_nothing_explains_teaches_nothing():
    after, explained = update(prior(), seen([30.0], [0.9], unexplained=0.01))
    assert explained[-1] == pytest.approx(1.0)
    assert after.moments[0] == pytest.approx([0, 0, 0])
    assert after.moments[1] == pytest.approx(COV)


def test_a_reading_that_is_impossible_leaves_what_was_believed():
    before = prior()
    assert update(before, seen([1e6], [1.0]))[0] is before


components = st.lists(
    st.tuples(st.floats(0.01, 1.0), st.floats(-2, 2), st.floats(-5e3, 5e3), st.floats(-0.02, 0.02)),
    min_size=KEPT + 1,
    max_size=KEPT + 8,
)


@given(components)
def test_joining_components_keeps_mean_and_covariance(parts):
    weight = np.array([part[0] for part in parts])
    whole = prior(weight / weight.sum(), [part[1:] for part in parts])
    fewer = reduced(whole)
    assert fewer.weight.size == KEPT
    assert fewer.weight.sum() == pytest.approx(1.0)
    scale = np.sqrt(np.diag(whole.moments[1]))
    assert fewer.moments[0] / scale == pytest.approx(whole.moments[0] / scale, abs=1e-6)
    assert fewer.moments[1] / np.outer(scale, scale) == pytest.approx(
        whole.moments[1] / np.outer(scale, scale), abs=1e-6
    )


def test_a_rare_wide_component_is_not_joined_with_a_narrow_one():
    weights = [0.985 / KEPT] * KEPT + [0.015]
    mean = [(0.001 * i, 0.0, 0.0) for i in range(KEPT)] + [(0.0, 0.0, 0.0)]
    mixed = prior(weights, mean)
    mixed.cov[-1] *= 16.0
    assert reduced(mixed).cov[:, 0, 0].max() == pytest.approx(16 * 0.09, rel=1e-6)


def test_what_looks_unlikely_is_kept_for_the_reading_that_shows_it():
    """A reading with many explanations makes one error unlikely; exactly, the next one still finds it."""
    rare = 0.002
    before = Mixture(
        np.array([1 - rare, rare]),
        np.array([[0.0, 0.0, 0.0], [-1.3, 0.0, 0.0]]),
        np.array([COV / 9, COV / 9]),
    )
    many = seen(np.linspace(-0.2, 0.2, 60), [0.9 / 60] * 60, unexplained=0.1)
    clear = seen([-1.3], [0.9], unexplained=0.1)
    after, _ = update(update(before, many)[0], clear)

    def density(mean, value, variance):
        return np.exp(-0.5 * (value - mean) ** 2 / variance) / np.sqrt(2 * np.pi * variance)

    # Of the second reading: under either error by what the first left of it, or explained by neither.
    spread = COV[0, 0] / 9 + 0.01
    first = 0.1 + 0.9 * np.array([density(mean, many.value, spread).mean() for mean in (0.0, -1.3)])
    left = np.array([1 - rare, rare]) * first
    shown = left * (0.1 + 0.9 * density(np.array([0.0, -1.3]), -1.3, spread))
    share = float(after.weight[after.mean[:, 0] < -0.8].sum())
    assert share == pytest.approx(shown[1] / shown.sum(), rel=0.1)


def test_explanations_that_are_followed_as_one_keep_mean_and_covariance():
    prior_2 = prior([0.7, 0.3], [(0.0, 0.0, 0.0), (0.5, 0.0, 0.0)])
    rng = np.random.default_rng(1)
    reading = seen(rng.normal(0.0, 0.4, 30), rng.dirichlet(np.ones(30)))
    after, _ = update(prior_2, reading)
    gain = COV[0, 0] / (COV[0, 0] + 0.01)
    innovation = reading.value - prior_2.mean[:, :1]
    weight = np.exp(-0.5 * innovation**2 / (COV[0, 0] + 0.01)) * reading.weight * prior_2.weight[:, None]
    weight /= weight.sum()
    middle = prior_2.mean[:, :1] + gain * innovation
    mean = float((weight * middle).sum())
    variance = float((weight * (middle - mean) ** 2).sum()) + COV[0, 0] * (1 - gain)
    assert after.moments[0][0] == pytest.approx(mean, abs=1e-6)
    assert after.moments[1][0, 0] == pytest.approx(variance, rel=1e-5)
