"""What may stand in a cylinder in place of a refrigerant, ready to be compared with readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from service.codes import LookAlikeHazard
from service.refrigerants.catalogue import Refrigerant
from service.refrigerants.curves import SaturationCurves
from service.refrigerants.look_alikes import LookAlikes
from service.verdict import chebyshev
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.hypothesis_curves import SMEAR
from service.verdict.quadrature_grids import REFERENCE_TEMP_K

Floats = NDArray[np.float64]
Parts = tuple[str, ...]

HAZARDS: tuple[str, ...] = tuple(LookAlikeHazard)
"""The worst first."""
_BY_FLAMMABILITY = {"3": "highly-flammable", "2": "flammable", "2L": "mildly-flammable"}
LEAST_SHARE = 0.1
"""Smaller mass fractions of what is hazardous are a matter of detection limits (a choice) [-]."""
MOST_UNCERTAIN = 0.05
"""A curve of which less is known agrees with everything and says nothing (a choice) [-]."""


@dataclass(frozen=True)
class Rows:
    """Contents with their curves, n of them; those of one combination of designations lie together.

    Parameters
    ----------
    sets : tuple of Parts
        The different combinations of designations, each with one content at least.
    which : ndarray[n]
        Combination of each content, rising.
    shares : ndarray[n, 3]
        Mass fractions of the parts [-].
    coefficients : ndarray[TERMS, n]
        Of ln P; NaN where too little is known of it.
    variance : ndarray[n]
        Of ln P, from the curve's uncertainty and the step to the next content [-].
    density : ndarray[n]
        Of the liquid at 25 °C, volumes added [kg/m3]; NaN where a part's is not known.
    hazard : ndarray[sets]
        Index among `HAZARDS`.
    sounds : ndarray[sets]
        Whether a combustible-gas detector would sound for it.
    count : ndarray[sets]
        Number of parts.
    """

    sets: tuple[Parts, ...]
    which: NDArray[np.intp]
    shares: Floats
    coefficients: Floats
    variance: Floats
    density: Floats
    hazard: NDArray[np.intp]
    sounds: NDArray[np.bool_]
    count: NDArray[np.intp]

    @cached_property
    def first(self) -> NDArray[np.intp]:
        """Place [sets] of the first content of each combination."""
        return np.flatnonzero(np.diff(self.which, prepend=-1))


class LookAlikeBook:
    """
    Every designation, every mixture of the table, and the mixtures of each designation in the space.

    Parameters
    ----------
    space
        The hypotheses.
    curves
        Tell the liquids' densities.
    catalogue
        Tells safety classes; what is missing has an unknown one.
    table
        Counterfeits and retrofits; None where there is none.
    """

    def __init__(
        self,
        space: HypothesisSpace,
        curves: SaturationCurves,
        catalogue: Mapping[str, Refrigerant],
        table: LookAlikes | None,
    ) -> None:
        self.space = space
        self._catalogue = catalogue
        density = np.exp(np.asarray(curves.log_liquid_density(np.array([REFERENCE_TEMP_K]))))
        self._density = dict(
            zip(space.designations, density.reshape(len(space.designations)).tolist(), strict=True)
        )
        self._mixtures: dict[int, Rows] = {}
        self.fixed = _joined([self._alone(), *([self._tabled(table)] if table is not None else [])])

    def hazard(self, parts: Sequence[str]) -> int:
        """Index among `HAZARDS` of the worst part."""
        return min(self._hazard_of(name) for name in parts)

    def _hazard_of(self, name: str) -> int:
        letters = self._catalogue[name].safety_class.value if name in self._catalogue else None
        if not letters:
            return HAZARDS.index("unknown")
        if letters.startswith("B"):
            return HAZARDS.index("toxic")
        return HAZARDS.index(_BY_FLAMMABILITY.get(letters[1:], "other"))

    def sounds(self, parts: Sequence[str]) -> bool:
        """Whether a combustible-gas detector would sound for it."""
        letters = [self._catalogue[n].safety_class.value or "" for n in parts if n in self._catalogue]
        return any(text[1:] in ("2", "3") for text in letters)

    def _rows(
        self,
        sets: Sequence[Parts],
        which: NDArray[np.intp],
        shares: Floats,
        coefficients: Floats,
        variance: Floats,
    ) -> Rows:
        """With all that follows from the parts and their shares [n, 3]; `coefficients` are [n, TERMS]."""
        volume = np.zeros((len(sets), shares.shape[1]))
        for row, parts in enumerate(sets):
            volume[row, : len(parts)] = [1.0 / self._density[name] for name in parts]
        return Rows(
            tuple(sets),
            which,
            shares,
            np.ascontiguousarray(coefficients.T),
            variance,
            1.0 / np.where(shares > 0, shares * volume[which], 0.0).sum(axis=1),
            np.array([self.hazard(parts) for parts in sets], dtype=np.intp),
            np.array([self.sounds(parts) for parts in sets], dtype=np.bool_),
            np.array([len(parts) for parts in sets], dtype=np.intp),
        )

    def _alone(self) -> Rows:
        space, n = self.space, len(self.space.designations)
        vague = space.curve_uncertainty > MOST_UNCERTAIN
        return self._rows(
            [(name,) for name in space.designations],
            np.arange(n),
            np.tile([1.0, 0.0, 0.0], (n, 1)),
            np.where(vague[:, None], np.nan, space.clean),
            np.where(vague, 0.0, space.curve_uncertainty**2),
        )

    def _tabled(self, table: LookAlikes) -> Rows:
        sets = tuple(dict.fromkeys(table.parts))
        at = {parts: i for i, parts in enumerate(sets)}
        which = np.array([at[parts] for parts in table.parts])
        samples, shares = table.at(chebyshev.SAMPLE_TEMP_K), table.shares.astype(float)
        counts = np.array([len(parts) for parts in sets], dtype=np.intp)
        smear = _smear(which, shares, samples[:, chebyshev.HOME], counts)
        variance = table.uncertainty.astype(float) ** 2 + smear
        worst = np.zeros((len(sets), shares.shape[1]), dtype=bool)
        for row, parts in enumerate(sets):
            worst[row, : len(parts)] = [self.hazard((name,)) == self.hazard(parts) for name in parts]
        enough = np.flatnonzero((shares * worst[which]).sum(axis=1) >= LEAST_SHARE - 1e-6)
        enough = enough[np.argsort(which[enough], kind="stable")]
        kept, which = np.unique(which[enough], return_inverse=True)
        fitted = chebyshev.fit(samples[enough])
        return self._rows([sets[i] for i in kept], which, shares[enough], fitted, variance[enough])

    def mixtures_of(self, designation: int) -> Rows:
        """Mixtures of one designation with each contaminant, of a share that matters; kept from the first time on."""
        if designation not in self._mixtures:
            self._mixtures[designation] = self._mixtures_of(designation)
        return self._mixtures[designation]

    def _mixtures_of(self, designation: int) -> Rows:
        space = self.space
        block, share = space.blocks["mixed"], space.share.nodes
        seconds = np.flatnonzero(block.possible[designation])
        nodes = np.flatnonzero(share >= LEAST_SHARE)
        first = block.start + designation * block.shape[1] * block.shape[2]
        rows = (first + seconds[:, None] * block.shape[2] + nodes).ravel()
        sets = tuple((space.designations[designation], space.contaminants[s]) for s in seconds)
        of = np.tile(share[nodes], len(sets))
        return self._rows(
            sets,
            np.repeat(np.arange(len(sets)), nodes.size),
            np.column_stack([1.0 - of, of, np.zeros_like(of)]),
            space.coefficients[rows].astype(float) + space.reference,
            space.variance[rows].astype(float),
        )


def _joined(parts: Sequence[Rows]) -> Rows:
    before = np.cumsum([0, *(len(one.sets) for one in parts[:-1])])
    return Rows(
        tuple(key for one in parts for key in one.sets),
        np.concatenate([one.which + start for one, start in zip(parts, before, strict=True)]),
        np.concatenate([one.shares for one in parts]),
        np.concatenate([one.coefficients for one in parts], axis=1),
        np.concatenate([one.variance for one in parts]),
        np.concatenate([one.density for one in parts]),
        np.concatenate([one.hazard for one in parts]),
        np.concatenate([one.sounds for one in parts]),
        np.concatenate([one.count for one in parts]),
    )


def _smear(which: NDArray[np.intp], shares: Floats, log_pressure: Floats, parts: NDArray[np.intp]) -> Floats:
    """Variance [n] of the step from one content to the next of its combination, of so many `parts` [sets]."""
    variance = np.zeros(which.size)
    for one, count in enumerate(parts):
        rows = np.flatnonzero(which == one)
        # The last share is what the others leave: with it the slopes are not determined.
        free = np.column_stack([shares[rows, : count - 1], np.ones(rows.size)])
        slopes = np.linalg.lstsq(free, log_pressure[rows], rcond=None)[0][:-1]
        step = float(np.min(shares[rows][shares[rows] > 0]))
        variance[rows] = (SMEAR * step * float(np.abs(slopes).max())) ** 2
    return variance
