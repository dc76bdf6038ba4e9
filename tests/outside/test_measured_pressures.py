"""Measured pressures of pure fluids and of pairs lie where the stated uncertainties say.

Source: NIST/TRC ThermoML archive; the DOI beside each number in the tables is its paper. The whole comparison is
`python -m tests.benchmarks.measured_uncertainty`; here is every fourth point, and the statistics on what was kept back.
"""

import pytest

from service.refrigerants.equation_of_state import is_shipped
from service.refrigerants.uncertainty import pair_class, stand_in
from service.store.artefacts import load_uncertainties
from tests.benchmarks import measured_statistics as statistics
from tests.support.measured import by_subject, points, residuals, without_lame_papers

STATED = load_uncertainties()
SPARSE = "HFC with R-23, R-161 or R-245fa"
PROMISED = {
    **{"fluid": 0.85, "HFO": 0.90, "HFC": 0.80, SPARSE: 0.80},
    **{"hydrocarbon, ether or other": 0.80, "guessed": 0.80},
}
"""Inside two sigma, of all points of the class."""
FEW = ("HFC", SPARSE, "guessed")


def class_of(subject):
    if "+" not in subject:
        return "fluid"
    return pair_of(subject)[0]


def pair_of(subject):
    first, second = subject.split("+")
    remedy = stand_in(first, second, shipped=is_shipped(first, second))
    return pair_class(first, second, remedy), STATED.pair(first, second, remedy)[0]


@pytest.fixture(scope="module")
def every():
    """Every eighth point of the classes with many, all of those with few."""
    few = [point for point in points() if class_of(point.subject) in FEW]
    many = [point for point in points() if class_of(point.subject) not in FEW]
    return residuals(few + many[::8])


@pytest.fixture(scope="module")
def found(every):
    return by_subject(without_lame_papers(every))


def share_inside(found, members):
    flags = []
    for subject in members:
        pure = tuple(STATED.fluid(name)[0] for name in subject.split("+"))
        pair = pair_of(subject)[1] if "+" in subject else 0.0
        flags += statistics.inside(
            [one for paper in found[subject].values() for one in paper], pair, pure, 2.0
        )
    return sum(flags) / len(flags), len(flags)


@pytest.mark.parametrize("name", PROMISED)
def test_points_lie_inside_two_sigma(found, name):
    share, count = share_inside(found, [subject for subject in found if class_of(subject) == name])
    assert count > 30
    assert share >= PROMISED[name]


def test_mixtures_of_a_paper_that_misses_its_own_ends_are_left_out(every):
    kept = without_lame_papers(every)
    assert 0 < len(every) - len(kept) < 0.2 * len(every)
    assert [one for one in every if len(one.point.components) == 1] == [
        one for one in kept if len(one.point.components) == 1
    ]


def test_sizes_hold_what_they_promise():
    of = [0.001 * i for i in range(1, 101)]
    sigma = statistics.size(of, 0.9)
    assert sigma == pytest.approx(max(0.0683, 0.0901 / 2), abs=1e-3)
    assert statistics.rounded(0.00512, 0.003) == pytest.approx(0.0055)
    assert statistics.class_sigma([], 0.007, 0.9) == pytest.approx(0.007)
    bad, good = {"a": [0.1] * 10}, {"a": [0.1] * 10, "b": [0.004] * 10}
    assert statistics.fluid_sigma(good, 0.007, 0.9) < statistics.fluid_sigma(bad, 0.007, 0.9)


def test_the_sigma_of_a_pair_is_that_of_a_paper_not_seen():
    papers = {"a": [0.04] * 10, "b": [0.005] * 10}
    sigma = statistics.pair_sigma(papers, None, 0.85)
    assert sigma == pytest.approx(((0.04**2 + 0.005**2) / 2) ** 0.5)
    assert statistics.pair_sigma(papers, 0.006, 0.85) < sigma
    assert statistics.fluid_sigma(papers, 0.006, 0.85) < statistics.pair_sigma(papers, 0.006, 0.85)
