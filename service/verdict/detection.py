"""Detection limits: the smallest amount of each contaminant that this evidence would have shown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.detection_test import Screen
from service.verdict.evidence import Evidence
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import DetectionLimit
from service.verdict.priors import Priors

Floats = NDArray[np.float64]

_MUCH = 0.1
"""A limit above this mass fraction is explained (a choice) [-]."""
_AIR_PA = np.concatenate([[0.0], np.geomspace(100.0, 3e6, 80)])
"""Partial pressures of air at 25 °C that are tried, ndarray[81] (a choice) [Pa]."""
_ROUNDS = 2
"""Rounds in which the direction of the change at the limit is found (a choice)."""
_APART = 1.0
"""Standard deviations by which an extreme must stand out to be told (a choice) [-]."""


def limits(
    space: HypothesisSpace, evidence: Evidence, priors: Priors, test: Screen, count: int
) -> tuple[DetectionLimit, ...]:
    """
    Limits for air and for the likeliest second refrigerants of one designation.

    Parameters
    ----------
    space : HypothesisSpace
        The tabulated mixtures.
    evidence : Evidence
        k pairs.
    priors : Priors
        Decide which contaminants are likely.
    test : Screen
        Of that designation.
    count : int
        How many second refrigerants.

    Returns
    -------
    tuple of DetectionLimit
        Air first, then by prior probability.
    """
    likely = np.argsort(-priors.partner[test.designation], kind="stable")[:count]
    likely = likely[priors.partner[test.designation][likely] > 0]
    return (air_limit(space, evidence, test), *mixture_limits(space, evidence, test, likely))


def air_change(space: HypothesisSpace, evidence: Evidence, designation: int, partial_pa: Floats) -> Floats:
    """Change [p, k] of ln P by partial pressures of air at 25 °C [Pa]."""
    clean = np.exp(space.clean[designation] @ chebyshev.values(evidence.temp_k))
    return np.asarray(np.log1p(partial_pa[:, None] * (evidence.temp_k / 298.15) / clean))


def mixture_change(
    space: HypothesisSpace, evidence: Evidence, designation: int, contaminants: NDArray[np.intp]
) -> Floats:
    """Change [contaminants, shares, k] of ln P [-] by second refrigerants, at the nodes of the share grid."""
    shares = space.blocks["mixed"].shape[2]
    first = [space.row("mixed", designation, int(s), 0) for s in contaminants]
    rows = (np.array(first, dtype=np.intp)[:, None] + np.arange(shares)).ravel()
    clean = space.clean[designation] @ chebyshev.values(evidence.temp_k)
    mixture = space.log_pressure(evidence.temp_k, rows) - clean
    return np.asarray(mixture.reshape(len(first), shares, -1))


def air_limit(space: HypothesisSpace, evidence: Evidence, test: Screen) -> DetectionLimit:
    """Limit for air, as a partial pressure at 25 °C."""
    change = air_change(space, evidence, test.designation, _AIR_PA)[None]
    shown = _shown(test, change, test.shift(change))
    limit = float(_crossings(_AIR_PA, shown, np.ones_like(shown))[0])
    if np.isnan(limit):
        return DetectionLimit("air", None, None, "These instruments could not show air at any pressure.")
    return DetectionLimit("air", None, limit)


def mixture_limits(
    space: HypothesisSpace, evidence: Evidence, test: Screen, contaminants: NDArray[np.intp]
) -> tuple[DetectionLimit, ...]:
    """Limits for second refrigerants [contaminants], as mass fractions; None where no share up to half is shown."""
    if contaminants.size == 0:
        return ()
    change = mixture_change(space, evidence, test.designation, contaminants)
    change = np.concatenate([np.zeros_like(change[:, :1]), change], axis=1)
    shift = test.shift(change)
    shown, signed = _shown(test, change, shift), shift * np.sign(change.mean(axis=2))
    second = space.clean[space.contaminant_index[contaminants]]
    end = (second - space.clean[test.designation]) @ chebyshev.values(evidence.temp_k)
    course = np.column_stack([signed, test.shift(end) * np.sign(end.mean(axis=1))])
    own, share = space.designations[test.designation], np.concatenate([[0.0], space.share.nodes])
    limit, steps = _crossings(share, shown, signed), np.diff(course, axis=1)
    one_way = np.asarray((steps >= 0).all(axis=1) | (steps <= 0).all(axis=1), dtype=np.bool_)
    words = [None if one_way[i] else (share, shown[i], course[i]) for i in range(contaminants.size)]
    return tuple(
        _mixture_limit(space.contaminants[s], own, float(limit[i]), words[i])
        for i, s in enumerate(contaminants)
    )


def _shown(test: Screen, change: Floats, shift: Floats) -> Floats:
    """Size of each change [n, amounts, k] over the size that is shown in its direction; [n, amounts].

    The direction is that of the amount where the limit lies, found in two rounds.
    """
    first = np.arange(change.shape[0])
    _, needed = test.thresholds(change[first, shift.argmax(axis=1)])
    for _ in range(min(_ROUNDS, change.shape[2])):
        over = shift >= needed[:, None]
        at = np.where(over.any(axis=1), over.argmax(axis=1), shift.argmax(axis=1))
        _, needed = test.thresholds(change[first, at])
    return np.asarray(shift / needed[:, None])


def _crossings(amounts: Floats, shown: Floats, signed: Floats) -> Floats:
    """Smallest amounts [n] that are shown, between the nodes; NaN where none is."""
    row = np.arange(shown.shape[0])
    over = shown >= 1.0
    at = np.maximum(over.argmax(axis=1), 1)
    same_side = signed[row, at - 1] * signed[row, at] >= 0
    before = np.where(same_side, shown[row, at - 1], 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = (1.0 - before) / (shown[row, at] - before)
    return np.where(over.any(axis=1), amounts[at - 1] + (amounts[at] - amounts[at - 1]) * part, np.nan)


def _mixture_limit(
    name: str, own: str, limit: float, course: tuple[Floats, Floats, Floats] | None
) -> DetectionLimit:
    """One limit in words; `course` is given where the pressure does not go one way only."""
    if np.isnan(limit):
        unseen = f"Pressure cannot show {name} in {own} at any share up to 50 % with these instruments."
        return DetectionLimit(name, None, None, unseen)
    note = None if course is None else _two_branches(name, own, *course)
    if note is None and limit > _MUCH:
        note = f"Less than {100 * limit:.0f} % of {name} in {own} cannot be seen by pressure."
    return DetectionLimit(name, limit, None, note)


def _two_branches(name: str, own: str, share: Floats, shown: Floats, signed: Floats) -> str | None:
    """Words for a mixture whose pressure passes through an extreme, where two shares give one pressure.

    `signed` goes on to the second refrigerant alone.
    """
    first = int(np.argmax(shown >= 1.0))
    again = np.flatnonzero(shown[first:] < 1.0)
    if again.size:
        return (
            f"{name} in {own} passes through an extreme of pressure: shares near "
            f"{100 * share[first + again[0]]:.0f} % cannot be seen again."
        )
    peak = int((signed * np.sign(signed[first])).argmax())
    if peak < share.size - 1 and abs(signed[peak] - signed[share.size - 1]) > _APART:
        return (
            f"{name} in {own} has an extreme of pressure near {100 * share[peak]:.0f} %: one pressure can "
            "mean a share on either side of it."
        )
    if peak < signed.size - 1 and abs(signed[peak] - signed[-1]) > _APART:
        return (
            f"{name} and {own} have an extreme of pressure together: some {name} can look like mostly {name}."
        )
    return None
