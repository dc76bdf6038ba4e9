import numpy as np
import pytest

from service.verdict import information_gain


def of_reading(mean, weight, label, spread):
    return information_gain.of_readings(np.array([mean, mean]), weight, label, np.array([spread, spread]))[1]


def test_two_classes_that_part_are_worth_one_bit():
    bits = of_reading(np.array([0.0, 20.0]), np.array([0.5, 0.5]), np.array([0, 1]), 1.0)
    assert bits == pytest.approx(1.0, abs=0.01)


def test_classes_that_coincide_are_worth_nothing():
    bits = of_reading(np.array([5.0, 5.0]), np.array([0.3, 0.7]), np.array([0, 1]), 1.0)
    assert bits == pytest.approx(0.0, abs=1e-9)


def test_one_standard_deviation_apart_agrees_with_quadrature():
    y = np.linspace(-12, 14, 20001)
    first, second = (np.exp(-0.5 * (y - m) ** 2) / np.sqrt(2 * np.pi) for m in (0.0, 2.0))
    both = (first + second) / 2
    terms = 0.5 * (first * np.log2(first / both) + second * np.log2(second / both))
    bits = of_reading(np.array([0.0, 2.0]), np.array([0.5, 0.5]), np.array([0, 1]), 1.0)
    assert bits == pytest.approx(float(np.trapezoid(terms, y)), abs=0.02)


def test_mutual_information_ignores_scale():
    joint = np.array([[3.0, 1.0], [1.0, 3.0]])
    assert information_gain.mutual(joint) == pytest.approx(information_gain.mutual(joint / 8))
    assert information_gain.mutual(np.zeros((2, 2))) == 0.0
