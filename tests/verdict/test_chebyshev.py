import numpy as np

from service.verdict import chebyshev


def smooth(temp):
    return 22 - 2500 / temp - 2 * np.log(temp)


def test_full_curves_are_exact_to_a_millionth():
    coefficients = chebyshev.fit(smooth(chebyshev.SAMPLE_TEMP_K)[None])
    temp = np.linspace(233.15, 333.15, 37)
    assert np.abs(coefficients @ chebyshev.values(temp) - smooth(temp)).max() < 1e-6


def test_slopes_are_the_derivative():
    coefficients = chebyshev.fit(smooth(chebyshev.SAMPLE_TEMP_K)[None])
    temp = np.linspace(240, 330, 11)
    expected = 2500 / temp**2 - 2 / temp
    assert np.abs(coefficients @ chebyshev.slopes(temp) - expected).max() < 1e-6


def test_a_curve_that_ends_early_is_fitted_over_its_own_range():
    samples = np.where(chebyshev.SAMPLE_TEMP_K < 300, smooth(chebyshev.SAMPLE_TEMP_K), np.nan)
    coefficients = chebyshev.fit(samples[None])
    temp = np.linspace(235, 297, 13)
    assert np.abs(coefficients @ chebyshev.values(temp) - smooth(temp)).max() < 1e-5


def test_too_few_samples_give_nothing():
    samples = np.full((1, chebyshev.SAMPLES), np.nan)
    samples[0, :4] = 13.0
    assert not chebyshev.fit(samples).any()


def test_the_basis_is_the_same_for_whole_numbers_and_cannot_be_written_to():
    at, slope = chebyshev.with_slopes(np.array([290, 300]))
    again, _ = chebyshev.with_slopes(np.array([290.0, 300.0]))
    assert (at == again).all()
    assert not at.flags.writeable
    assert not slope.flags.writeable
