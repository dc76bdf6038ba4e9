"""What else the readings agree with: contents that pressure and temperature cannot tell from the one that is named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from service.codes import ClaimFinding, IdentityFinding, Provenance, ToldBy
from service.verdict import chebyshev
from service.verdict.dense import DenseBook
from service.verdict.evidence import Evidence
from service.verdict.look_alike_book import HAZARDS, LookAlikeBook, Rows
from service.verdict.model import Claim, CylinderFacts, Identity, LookAlike, LookAlikeGroup, ReadsTheSame
from service.verdict.posterior import Posterior

Floats = NDArray[np.float64]

PROVENANCES: tuple[str, ...] = tuple(Provenance)
"""A maker's sealed container, own records without a gap, or anything else: inherited, bought, no label."""
_NORMAL_99 = 2.326
"""Quantile of 0.99 of the standard normal distribution (computed) [-]."""
_EXAMPLES = 8
"""Most look-alikes that are named (a choice)."""
MOVES = 0.015
"""Change of the distance of two curves, from one temperature to another, that is told (a judgement) [-]."""
LIGHTER, HEAVIER = 0.8, 1.25
"""Ratios of the liquids' densities that weight with liquid level tells apart (a judgement) [-]."""
_COLD_K, _WARM_K = 283.15, 311.15
"""Between what a cylinder is easily brought to, 10 and 38 °C (common practice) [K]."""


def target(identity: Identity, claim: Claim | None) -> str | None:
    """The designation that is kept under: the label's where it may be right, else the likeliest."""
    if identity.finding == IdentityFinding.UNRECOGNISED or not identity.candidates:
        return None
    if claim is not None and claim.finding != ClaimFinding.CONTRADICTED:
        return claim.designation
    return identity.candidates[0].designation


def find(
    found: Posterior,
    book: LookAlikeBook,
    dense: DenseBook,
    facts: CylinderFacts,
    identity: Identity,
    claim: Claim | None,
) -> ReadsTheSame | None:
    """
    What reads the same as the named designation; None where nothing is named or there is no liquid.

    Parameters
    ----------
    found : Posterior
        Of the pairs.
    book : LookAlikeBook
        What may be in place of it.
    dense : DenseBook
        Likewise above the end of the saturation curves.
    facts : CylinderFacts
        Provenance, and what else was observed.
    identity, claim : Identity, Claim or None
        What is named.

    Returns
    -------
    ReadsTheSame or None
        Groups by hazard, the worst first.
    """
    name = target(identity, claim)
    if name is None or found.two_phase < 0.5:
        return None
    if facts.observations.compositions:
        return ReadsTheSame(name, False, ())
    at = book.space.designations.index(name)
    own = book.hazard((name,))
    clean = book.space.clean[at]
    own_mixtures = book.mixtures_of(at)
    if found.is_dense():
        alike = np.setdiff1d(dense.fitting(found.evidence), [at])
        matches = _Matches.of([(book.fixed, alike, np.zeros(alike.size))])
    else:
        matches = _Matches.of(
            [
                (book.fixed, *_fitting(found.evidence, book.fixed, clean, besides=at)),
                (own_mixtures, *_fitting(found.evidence, own_mixtures, clean)),
            ]
        )
    silent = facts.observations.combustible_gas is False
    groups = tuple(_groups(matches, book, at, found.evidence, silent=silent))
    loud = facts.provenance == "unknown" and any(HAZARDS.index(g.hazard) < min(own, 4) for g in groups)
    return ReadsTheSame(name, loud, groups)


@dataclass(frozen=True, slots=True)
class _Matches:
    """
    All combinations that fit, each by the content of it that fits best.

    Which of the tables each is from and its row there, and what these say of it.
    """

    sources: tuple[Rows, ...]
    source: NDArray[np.intp]
    row: NDArray[np.intp]
    distance: Floats
    hazard: NDArray[np.intp]
    count: NDArray[np.intp]
    sounds: NDArray[np.bool_]
    density: Floats
    coefficients: Floats

    @classmethod
    def of(cls, found: Sequence[tuple[Rows, NDArray[np.intp], Floats]]) -> _Matches:
        sets = [(rows, rows.which[row]) for rows, row, _ in found]
        return cls(
            tuple(rows for rows, _, _ in found),
            np.repeat(np.arange(len(found)), [row.size for _, row, _ in found]),
            np.concatenate([row for _, row, _ in found]),
            np.concatenate([distance for _, _, distance in found]),
            np.concatenate([rows.hazard[which] for rows, which in sets]),
            np.concatenate([rows.count[which] for rows, which in sets]),
            np.concatenate([rows.sounds[which] for rows, which in sets]),
            np.concatenate([rows.density[row] for rows, row, _ in found]),
            np.concatenate([rows.coefficients[:, row] for rows, row, _ in found], axis=1),
        )

    def parts(self, at: int) -> tuple[str, ...]:
        rows = self.sources[int(self.source[at])]
        return rows.sets[int(rows.which[self.row[at]])]

    def look_alike(self, at: int) -> LookAlike:
        shares = self.sources[int(self.source[at])].shares[self.row[at]].tolist()
        return LookAlike({name: round(w, 3) for name, w in zip(self.parts(at), shares, strict=False)})


def _fitting(
    evidence: Evidence, rows: Rows, clean: Floats, besides: int | None = None
) -> tuple[NDArray[np.intp], Floats]:
    """The best content of each combination that fits, but for one row, and how far it is off."""
    at, slope = chebyshev.with_slopes(evidence.temp_k)
    inverse = np.linalg.inv(evidence.covariance(clean @ slope, 0.0))
    residual = evidence.log_pressure[:, None] - at.T @ rows.coefficients
    level = inverse.sum(axis=1)
    shared = level @ residual
    square = ((np.linalg.cholesky(inverse).T @ residual) ** 2).sum(axis=0)
    square -= rows.variance * shared**2 / (1.0 + rows.variance * level.sum())
    if besides is not None:
        square[besides] = np.nan
    least = np.fmin.reduceat(square, rows.first)
    best = np.flatnonzero((square == least[rows.which]) & (square <= _most(evidence.count)))
    best = best[np.diff(rows.which[best], prepend=-1) > 0]
    return best, square[best]


def _most(count: int) -> float:
    """99 % quantile of chi-square, by Wilson and Hilferty."""
    return float(count * (1 - 2 / (9 * count) + _NORMAL_99 * sqrt(2 / (9 * count))) ** 3)


def _groups(
    matches: _Matches, book: LookAlikeBook, at: int, evidence: Evidence, *, silent: bool
) -> list[LookAlikeGroup]:
    """By hazard; `silent`: a combustible-gas detector did not sound, which excludes what it would have heard."""
    groups, tell = [], _tell(matches, book, at, evidence)
    possible = ~matches.sounds if silent else np.ones_like(matches.sounds)
    for index, hazard in enumerate(HAZARDS):
        members = np.flatnonzero(possible & (matches.hazard == index))
        if members.size:
            shown = _varied(matches, members[np.lexsort((matches.distance[members], matches.count[members]))])
            told = (code for code, tells in tell.items() if 2 * int(tells[shown].sum()) >= len(shown))
            examples = tuple(matches.look_alike(one) for one in shown)
            groups.append(LookAlikeGroup(hazard, members.size, examples, (*told, "analyser", "laboratory")))
    return groups


def _varied(matches: _Matches, order: NDArray[np.intp]) -> list[int]:
    """The first of each new part: examples that do not all say the same."""
    shown: list[int] = []
    named: set[str] = set()
    for at in order.tolist():
        if len(shown) == _EXAMPLES:
            break
        parts = matches.parts(at)
        if not named.issuperset(parts):
            shown.append(at)
            named |= set(parts)
    return shown


def _tell(
    matches: _Matches, book: LookAlikeBook, at: int, evidence: Evidence
) -> dict[str, NDArray[np.bool_]]:
    """Which measurement would distinguish each of them from the named designation."""
    temps = np.array([_COLD_K, float(evidence.temp_k.mean()), _WARM_K])
    away = chebyshev.values(temps).T @ (matches.coefficients - book.space.clean[at][:, None])
    ratio = matches.density / book.fixed.density[at]
    tell = {
        "other-temperature": np.abs(away - away[1]).max(axis=0) > MOVES,
        "weight-and-level": (ratio < LIGHTER) | (ratio > HEAVIER),
    }
    return tell if book.fixed.sounds[at] else {**tell, "combustible-gas": matches.sounds}


TOLD_BY: tuple[str, ...] = tuple(ToldBy)
"""What can tell a look-alike from what the label says, in the order in which it is told."""
_HAZARD_WORDS = {
    "toxic": "toxic",
    "highly-flammable": "highly flammable",
    "flammable": "flammable",
    "mildly-flammable": "mildly flammable",
    "unknown": "of unknown hazard",
    "other": "no more hazardous",
}
_TOLD_WORDS = {
    "other-temperature": "a reading at another temperature",
    "weight-and-level": "weight with the liquid level",
    "combustible-gas": "a combustible-gas detector",
    "analyser": "a refrigerant analyzer",
    "laboratory": "a laboratory",
}


def spelled(one: LookAlike) -> str:
    """``R-717``, or ``20 % R-40 + 80 % R-134a``."""
    parts = one.mass_fractions
    if len(parts) == 1:
        return next(iter(parts))
    return " + ".join(f"{100 * share:.0f} % {name}" for name, share in parts.items())


def sentences(same: ReadsTheSame | None) -> tuple[str, ...]:
    """What else the readings agree with: a sentence a hazard, the worst first; one in all where it is vouched for."""
    if same is None or not same.groups:
        return ()
    if not same.loud:
        one = "; ".join(f"{spelled(g.examples[0])} ({_HAZARD_WORDS[g.hazard]})" for g in same.groups)
        return (f"The readings agree just as well with other contents, such as {one}.",)
    lines = []
    for group in same.groups:
        examples = "; ".join(spelled(one) for one in group.examples)
        tell = ", ".join(_TOLD_WORDS[code] for code in group.told_by)
        more = "" if group.count <= len(group.examples) else f" ({group.count} combinations in all)"
        hazard = _HAZARD_WORDS[group.hazard]
        lines.append(f"The readings agree just as well with ({hazard}): {examples}{more}. To tell: {tell}.")
    return tuple(lines)


def not_excluded(same: ReadsTheSame | None) -> tuple[str, ...]:
    """What paper has to say of a cylinder that nobody vouches for: ``toxic``, ``flammable``."""
    if same is None or not same.loud:
        return ()
    hazards = {group.hazard for group in same.groups}
    burns = hazards & {"highly-flammable", "flammable", "mildly-flammable"}
    return (*(["toxic"] if "toxic" in hazards else []), *(["flammable"] if burns else []))


def caution(same: ReadsTheSame | None) -> tuple[str, ...]:
    """What cannot be excluded of a cylinder that nobody vouches for."""
    if same is None or not same.loud:
        return ()
    groups = [group for group in same.groups if HAZARDS.index(group.hazard) < HAZARDS.index("unknown")]
    said = [
        f"{_HAZARD_WORDS[group.hazard]} contents such as {spelled(group.examples[0])}" for group in groups
    ]
    hazards = {group.hazard for group in groups}
    # What is toxic may be flammable as well: R-40 is.
    acts = ["no ignition source", *(["do not breathe it"] if "toxic" in hazards else [])]
    return (
        f"Not excluded by these readings: {', or '.join(said)}. Nobody vouches for where this cylinder comes from: "
        f"{', '.join(acts)}, until one of the tests named has excluded that.",
    )
