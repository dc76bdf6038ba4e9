"""How large the error of a fluid or a pair is: papers within subjects, subjects within classes.

The size of an error at one point is what is left of it beyond the pure ends, over 4 x (1 - x). The size in one paper
is the larger of the value that 68 % of its points stay below and half the value that `target` of them stay below, so
that one and two sigma hold what they promise.

Papers are random effects within a subject, and what is promised is promised of a paper not seen. A pair has a paper
or two, and nobody knows which of two that differ is right: the next one may be like either, so its variance is the
mean of theirs (law of total variance), and its sigma their root mean square. A pure fluid has an equation that was
fitted to the best of many papers: how far a bad one lies says nothing of it, so sizes are averaged as logarithms
there, which a bad paper hardly moves. So are the pairs of a class, of which some are far off (R-245fa+R-152a by 20 %)
and named as such. A subject's own sizes count against its class, and a class's subjects against what was stated before
anything was measured.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import ceil, hypot, sqrt

import numpy as np

from tests.support.measured import Residual

ONE_SIGMA = 0.68
LEAST_MID = 0.2
"""Nearer to a pure end a point says nothing of the pair [-]."""
ENOUGH = 10
"""Points from which on a paper counts whole."""
PAPER_AGAINST_CLASS, SUBJECT_AGAINST_STATED = 4.0, 0.5
"""Weight of one paper against its class, and of one subject against the class as stated (judgements)."""
LEAST_PURE, LEAST_PAIR = 0.0015, 0.003
STEP = 0.0005
Papers = Mapping[str, Sequence[Residual]]
Mean = Callable[[Iterable[float], Iterable[float]], float]


def sizes(papers: Papers, pure: float) -> dict[str, list[float]]:
    """Sizes of the errors by paper, those of the pure ends taken off; near the ends none [-]."""
    found = {}
    for doi, residuals in papers.items():
        if len(residuals[0].point.components) == 1:
            found[doi] = [abs(one.log_ratio) for one in residuals]
            continue
        mid = [one for one in residuals if one.point.mid >= LEAST_MID]
        if mid:
            found[doi] = [sqrt(max(one.log_ratio**2 - pure**2, 0.0)) / one.point.mid for one in mid]
    return found


def size(of: Sequence[float], target: float) -> float:
    """One sigma that is true to one and to two sigma [-]."""
    return max(float(np.quantile(of, ONE_SIGMA)), float(np.quantile(of, target)) / 2, STEP)


def weights(papers: Mapping[str, Sequence[float]]) -> list[float]:
    """What each paper counts, a whole one 1 [-]."""
    return [min(len(of), ENOUGH) / ENOUGH for of in papers.values()]


def logarithmic_mean(values: Iterable[float], weights: Iterable[float]) -> float:
    """exp of the weighted mean of logarithms."""
    return float(np.exp(np.average(np.log(list(values)), weights=list(weights))))


def root_mean_square(values: Iterable[float], weights: Iterable[float]) -> float:
    """Root of the weighted mean of squares."""
    return float(np.sqrt(np.average(np.square(list(values)), weights=list(weights))))


def _shrunk(
    mean: Mean, papers: Mapping[str, Sequence[float]], of_class: float | None, target: float
) -> float:
    own = [size(of, target) for of in papers.values()]
    whole = [PAPER_AGAINST_CLASS * w for w in weights(papers)]
    if of_class is None:
        return mean(own, whole)
    return mean([*own, of_class], [*whole, 1.0])


def fluid_sigma(papers: Mapping[str, Sequence[float]], stated: float, target: float) -> float:
    """A pure fluid's one sigma, shrunk towards what was stated [-]."""
    return _shrunk(logarithmic_mean, papers, stated, target)


def pair_sigma(papers: Mapping[str, Sequence[float]], of_class: float | None, target: float) -> float:
    """A pair's one sigma in a paper not seen, shrunk towards its class where it has one [-]."""
    return _shrunk(root_mean_square, papers, of_class, target)


def class_sigma(subjects: Iterable[Mapping[str, Sequence[float]]], stated: float, target: float) -> float:
    """One sigma of a pair that was not measured: each measured one counts alike [-]."""
    own = [pair_sigma(papers, None, target) for papers in subjects]
    return logarithmic_mean([*own, stated], [SUBJECT_AGAINST_STATED] * len(own) + [1.0])


def rounded(value: float, least: float) -> float:
    """Up to the next step, never below the least [-]."""
    return max(least, ceil(value / STEP - 1e-9) * STEP)


def inside(residuals: Iterable[Residual], pair: float, pure: tuple[float, ...], sigmas: float) -> list[bool]:
    """Whether each point lies within so many sigma of its pair's and its pure ends' uncertainty together."""
    found = []
    for one in residuals:
        shares = (one.point.first, 1.0 - one.point.first) if len(pure) > 1 else (1.0,)
        ends = hypot(*(x * u for x, u in zip(shares, pure, strict=True)))
        found.append(abs(one.log_ratio) <= sigmas * hypot(ends, one.point.mid * pair))
    return found
