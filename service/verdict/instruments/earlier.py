"""What a set was off by at a time, by all that it learned before and since.

A verdict stays for months, and what a set was off by is often found later. Its errors of then stand in the state beside
those of now, equal at first; drift and falls move those of now alone, and a later lesson says as much of then as both
still have in common (fixed-point smoothing; Anderson and Moore, Optimal Filtering, 1979, chapter 7; from memory). So a
clamp that fell last week corrects nothing that it read before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from service.verdict.instruments import checks, contents
from service.verdict.instruments.belief import ErrorBelief, aged
from service.verdict.instruments.checks import Check
from service.verdict.instruments.contents import Explanations
from service.verdict.instruments.mixture import Mixture

APART = 1e-4
"""Variance, of the class's, by which the errors of then and of now differ at first, so that arithmetic can tell them
apart (a choice) [-]."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """
    Something that taught a set.

    Parameters
    ----------
    at_s : float
        When, from any moment that all lessons have in common [s].
    told : Check or Explanations
        A check by hand, or what a settled pair may have been off by.
    """

    at_s: float
    told: Check | Explanations


def as_of(begun: ErrorBelief, begun_s: float, lessons: Sequence[Lesson], at_s: float) -> ErrorBelief:
    """
    The errors of a set at a time.

    Parameters
    ----------
    begun : ErrorBelief
        What was believed before all the lessons.
    begun_s : float
        As of when [s].
    lessons : sequence of Lesson
        Oldest first; some before the time and some after it.
    at_s : float
        The time [s].

    Returns
    -------
    ErrorBelief
        Its pairs count those that came later too.
    """
    before = [one for one in lessons if one.at_s <= at_s]
    newest_s = max([begun_s, *(one.at_s for one in before)])
    belief = aged(_taught(begun, begun_s, before), at_s - newest_s)
    since = lessons[len(before) :]
    if not since:
        return belief
    taught = _taught(replace(belief, errors=_remembered(belief)), at_s, since)
    size, found = belief.errors.mean.shape[1], taught.errors
    return replace(taught, errors=Mixture(found.weight, found.mean[:, size:], found.cov[:, size:, size:]))


def _taught(belief: ErrorBelief, at_s: float, lessons: Sequence[Lesson]) -> ErrorBelief:
    for one in lessons:
        belief, at_s = aged(belief, one.at_s - at_s), max(at_s, one.at_s)
        told = one.told
        belief = checks.learned(belief, told) if isinstance(told, Check) else contents.learned(belief, told)
    return belief


def _remembered(belief: ErrorBelief) -> Mixture:
    """The errors of now, with those of then beside them."""
    mean, cov = belief.errors.mean, belief.errors.cov
    now = cov + np.diag(APART * belief.grade.sizes**2)
    joint = np.concatenate([np.concatenate([now, cov], axis=2), np.concatenate([cov, cov], axis=2)], axis=1)
    return Mixture(belief.errors.weight, np.concatenate([mean, mean], axis=1), joint)
