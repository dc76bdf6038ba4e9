"""What may stand in a cylinder in place of a refrigerant, ready to be compared with readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

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


@dataclass(frozen=True, slots=True)
class Rows:
    """Contents with their curves, n of them.

    Parameters
    ----------
    sets : tuple of Parts
        The different combinations of designations.
    which : ndarray[n]
        Combination of each content.
    shares : ndarray[n, 3]
        Mass fractions of the parts [-].
    coefficients : ndarray[n, TERMS]
        Of ln P; NaN where too little is known of it.
    variance : ndarray[n]
        Of ln P, from the curve's uncertainty and the step to the next content [-].
    hazard : ndarray[sets]
        Index among `HAZARDS`.
    count : ndarray[sets]
        Number of parts.
    """

    sets: tuple[Parts, ...]
    which: NDArray[np.intp]
    shares: Floats
    coefficients: Floats
    variance: Floats
    hazard: NDArray[np.intp]
    count: NDArray[np.intp]


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

    def density(self, parts: Sequence[str], shares: Sequence[float]) -> float | None:
        """Of the liquid at 25 °C, volumes added [kg/m3]; None where a part's is not known."""
        volume = sum(w / self._density[name] for name, w in zip(parts, shares, strict=False) if w > 0)
        return 1.0 / volume if np.isfinite(volume) and volume > 0 else None

    def _alone(self) -> Rows:
        space, n = self.space, len(self.space.designations)
        vague = space.curve_uncertainty > MOST_UNCERTAIN
        sets = tuple((name,) for name in space.designations)
        hazard = np.array([self.hazard(parts) for parts in sets])
        shares = np.tile([1.0, 0.0, 0.0], (n, 1))
        variance = np.where(vague, 0.0, space.curve_uncertainty**2)
        clean = np.where(vague[:, None], np.nan, space.clean)
        return Rows(sets, np.arange(n), shares, clean, variance, hazard, np.ones(n, dtype=np.intp))

    def _tabled(self, table: LookAlikes) -> Rows:
        sets = tuple(dict.fromkeys(table.parts))
        at = {parts: i for i, parts in enumerate(sets)}
        which = np.array([at[parts] for parts in table.parts])
        samples, shares = table.at(chebyshev.SAMPLE_TEMP_K), table.shares.astype(float)
        smear = _smear(which, shares, samples[:, chebyshev.HOME], len(sets))
        variance = table.uncertainty.astype(float) ** 2 + smear
        hazard = np.array([self.hazard(parts) for parts in sets])
        worst = np.zeros((len(sets), shares.shape[1]), dtype=bool)
        for row, parts in enumerate(sets):
            worst[row, : len(parts)] = [self.hazard((name,)) == hazard[row] for name in parts]
        enough = (shares * worst[which]).sum(axis=1) >= LEAST_SHARE - 1e-6
        return Rows(
            sets,
            which[enough],
            shares[enough],
            chebyshev.fit(samples[enough]),
            variance[enough],
            hazard,
            np.array([len(parts) for parts in sets], dtype=np.intp),
        )

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
        return Rows(
            sets,
            np.repeat(np.arange(len(sets)), nodes.size),
            np.column_stack([1.0 - of, of, np.zeros_like(of)]),
            space.coefficients[rows].astype(float) + space.reference,
            space.variance[rows].astype(float),
            np.array([self.hazard(parts) for parts in sets], dtype=np.intp),
            np.full(len(sets), 2, dtype=np.intp),
        )


def _joined(parts: Sequence[Rows]) -> Rows:
    before = np.cumsum([0, *(len(one.sets) for one in parts[:-1])])
    return Rows(
        tuple(key for one in parts for key in one.sets),
        np.concatenate([one.which + start for one, start in zip(parts, before, strict=True)]),
        np.concatenate([one.shares for one in parts]),
        np.concatenate([one.coefficients for one in parts]),
        np.concatenate([one.variance for one in parts]),
        np.concatenate([one.hazard for one in parts]),
        np.concatenate([one.count for one in parts]),
    )


def _smear(which: NDArray[np.intp], shares: Floats, log_pressure: Floats, sets: int) -> Floats:
    """Variance [n] of the step from one content to the next of its combination."""
    variance = np.zeros(which.size)
    for one in range(sets):
        rows = np.flatnonzero(which == one)
        # The last share is what the others leave: with it the plane would be undetermined.
        free = shares[rows][:, (shares[rows] > 0).any(axis=0)][:, :-1]
        if free.size:
            plane = np.column_stack([free, np.ones(rows.size)])
            slopes = np.linalg.lstsq(plane, log_pressure[rows], rcond=None)[0][:-1]
            variance[rows] = (SMEAR * float(np.min(free[free > 0])) * float(np.abs(slopes).max())) ** 2
    return variance
