"""What else the readings agree with: contents that pressure and temperature cannot tell from the one that is named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    if facts.observations.combustible_gas is False:
        matches = matches.without(book.sounds)
    groups = tuple(_groups(matches, book, name, at, found.evidence))
    loud = facts.provenance == "unknown" and any(HAZARDS.index(g.hazard) < min(own, 4) for g in groups)
    return ReadsTheSame(name, loud, groups)


@dataclass(frozen=True, slots=True)
class _Match:
    """One combination that fits, by the content of it that fits best."""

    parts: tuple[str, ...]
    shares: Floats
    coefficients: Floats

    @property
    def look_alike(self) -> LookAlike:
        shares = (round(float(w), 3) for w in self.shares)
        return LookAlike(dict(zip(self.parts, shares, strict=False)))


@dataclass(frozen=True, slots=True)
class _Matches:
    """All combinations that fit: the tables they are from, which of these, the row, hazard, parts and distance."""

    sources: tuple[Rows, ...]
    source: NDArray[np.intp]
    row: NDArray[np.intp]
    hazard: NDArray[np.intp]
    count: NDArray[np.intp]
    distance: Floats

    @classmethod
    def of(cls, found: Sequence[tuple[Rows, NDArray[np.intp], Floats]]) -> _Matches:
        return cls(
            tuple(rows for rows, _, _ in found),
            np.repeat(np.arange(len(found)), [row.size for _, row, _ in found]),
            np.concatenate([row for _, row, _ in found]),
            np.concatenate([rows.hazard[rows.which[row]] for rows, row, _ in found]),
            np.concatenate([rows.count[rows.which[row]] for rows, row, _ in found]),
            np.concatenate([distance for _, _, distance in found]),
        )

    def parts(self, at: int) -> tuple[str, ...]:
        rows = self.sources[int(self.source[at])]
        return rows.sets[int(rows.which[self.row[at]])]

    def match(self, at: int) -> _Match:
        rows, row = self.sources[int(self.source[at])], int(self.row[at])
        return _Match(self.parts(at), rows.shares[row], rows.coefficients[row])

    def without(self, unwanted: Callable[[Sequence[str]], bool]) -> _Matches:
        kept = np.array([not unwanted(self.parts(at)) for at in range(self.row.size)], dtype=np.bool_)
        return _Matches(
            self.sources,
            self.source[kept],
            self.row[kept],
            self.hazard[kept],
            self.count[kept],
            self.distance[kept],
        )


def _fitting(
    evidence: Evidence, rows: Rows, clean: Floats, besides: int | None = None
) -> tuple[NDArray[np.intp], Floats]:
    """The best content of each combination that fits, but for one row, and how far it is off."""
    at, slope = chebyshev.with_slopes(evidence.temp_k)
    inverse = np.linalg.inv(evidence.covariance(clean @ slope, 0.0))
    residual = evidence.log_pressure - rows.coefficients @ at
    level = inverse.sum(axis=1)
    shared = residual @ level
    square = ((residual @ np.linalg.cholesky(inverse)) ** 2).sum(axis=1)
    square -= rows.variance * shared**2 / (1.0 + rows.variance * level.sum())
    fitting = np.flatnonzero(square <= _most(evidence.count))
    fitting = fitting[fitting != besides]
    nearest = fitting[np.argsort(square[fitting], kind="stable")]
    best = nearest[np.unique(rows.which[nearest], return_index=True)[1]]
    return best, square[best]


def _most(count: int) -> float:
    """99 % quantile of chi-square, by Wilson and Hilferty."""
    return float(count * (1 - 2 / (9 * count) + _NORMAL_99 * sqrt(2 / (9 * count))) ** 3)


def _groups(
    matches: _Matches, book: LookAlikeBook, name: str, at: int, evidence: Evidence
) -> list[LookAlikeGroup]:
    groups = []
    for index, hazard in enumerate(HAZARDS):
        members = np.flatnonzero(matches.hazard == index)
        if members.size:
            order = members[np.lexsort((matches.distance[members], matches.count[members]))]
            shown = _varied(matches, order)
            told = _told_by(shown, book, name, at, evidence)
            examples = tuple(one.look_alike for one in shown)
            groups.append(LookAlikeGroup(hazard, int(members.size), examples, told))
    return groups


def _varied(matches: _Matches, order: NDArray[np.intp]) -> list[_Match]:
    """The first of each new part: examples that do not all say the same."""
    shown: list[_Match] = []
    named: set[str] = set()
    for at in order.tolist():
        if len(shown) == _EXAMPLES:
            break
        parts = matches.parts(at)
        if not named.issuperset(parts):
            shown.append(matches.match(at))
            named |= set(parts)
    return shown


def _told_by(
    shown: Sequence[_Match], book: LookAlikeBook, name: str, at: int, evidence: Evidence
) -> tuple[str, ...]:
    """By what all of them are told from the named designation, or most of them."""
    temps = np.array([_COLD_K, float(evidence.temp_k.mean()), _WARM_K])
    away = np.array([one.coefficients - book.space.clean[at] for one in shown]) @ chebyshev.values(temps)
    moves = np.abs(away - away[:, 1:2]).max(axis=1) > MOVES
    own = book.density((name,), (1.0,))
    light = []
    for one in shown:
        density = book.density(one.parts, one.shares.tolist())
        ratio = 1.0 if own is None or density is None else density / own
        light.append(ratio < LIGHTER or ratio > HEAVIER)
    burns = [book.sounds(one.parts) for one in shown]
    codes = {"other-temperature": moves.mean(), "weight-and-level": np.mean(light)}
    if not book.sounds((name,)):
        codes["combustible-gas"] = np.mean(burns)
    return (*(code for code, share in codes.items() if share >= 0.5), "analyser", "laboratory")


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
