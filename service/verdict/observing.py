"""How well each hypothesis explains a combustible-gas detector and a measured composition.

The factors multiply the likelihood of the pairs. None of them is ever zero: a detector that is silent lowers a
flammable content and rules none out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.catalogue import Refrigerant
from service.verdict import observations
from service.verdict.closed_cylinder import ChargeBook
from service.verdict.errors import InvalidEvidence
from service.verdict.filling import DENSITY_UNCERTAINTY
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.observations import LEVEL_TRUST, Composition, LiquidLevel, Observations

Floats = NDArray[np.float64]

SOUNDS = {"3": 0.95, "2": 0.9, "2L": 0.5, "1": 0.05}
"""Chance that a combustible-gas detector at the valve sounds, by flammability class (judgements, no source); many do
not see mildly flammable gas, and all sound at times for nothing [-]."""
UNKNOWN_SOUNDS = 0.5
"""Of contents whose class nobody knows, so that the detector says nothing about them (a judgement) [-]."""
ENOUGH = 0.05
"""Mass fraction of a flammable part from which the detector sounds as for the part alone (a judgement) [-]."""
LEAST_BY_CHANCE = 0.01
"""How often at least a wrong result names just such contents (a judgement) [-]."""
SHIFTED_BY = 0.08
"""How far the loss of vapor may move a blend's mass fractions (a judgement) [-]."""


@dataclass(frozen=True, slots=True)
class ObservationWeights:
    """ln of the likelihood of what was observed [-].

    Parameters
    ----------
    alone, shifted : ndarray[n]
        Each designation in any state but these, and after a loss of vapor.
    mixed : ndarray
        Broadcasts to [n, contaminants, shares].
    several : ndarray
        Broadcasts to [n, draws].
    something_else : float
        Outside the catalogue.
    """

    alone: Floats
    shifted: Floats
    mixed: Floats
    several: Floats
    something_else: float


class ObservationBook:
    """
    What is known of the designations: their parts, and how a detector takes them.

    Parameters
    ----------
    space
        The hypotheses.
    catalogue
        By designation; what is missing counts as one part of unknown class.
    field
        How often each designation is met in the field, sums to one [-].
    charges
        Densities of liquids and vapors.
    """

    def __init__(
        self,
        space: HypothesisSpace,
        catalogue: Mapping[str, Refrigerant],
        field: Floats,
        charges: ChargeBook,
    ) -> None:
        self._space, self._field = space, field
        self._liquid, self._vapour = charges.liquid, charges.vapour
        self.designations = space.designations
        self._at = {name: i for i, name in enumerate(space.designations)}
        self._parts = [_parts(name, catalogue) for name in space.designations]
        self.sounds = np.array([_sounds(parts, catalogue) for parts in self._parts])
        self._mixed_sounds = self._of_mixtures()
        self._several_sounds = self._of_several()
        self.row_sounds = self._by_row(self.sounds, self._mixed_sounds, self._several_sounds)
        liquid, vapour = self._densities()
        drawn = space.several.share.shape
        alike = [np.broadcast_to(one[:, None], drawn) for one in (self._liquid, self._vapour)]
        self._row_liquid = self._by_row(self._liquid, liquid, alike[0])
        self._row_vapour = self._by_row(self._vapour, vapour, alike[1])
        self._compositions: dict[float, NDArray[np.int32]] = {}
        n = len(self._at)
        none = np.zeros(n), np.zeros(n), np.zeros((1, 1, 1)), np.zeros((1, 1))
        self._nothing = ObservationWeights(*none, 0.0)

    def weights(self, seen: Observations, density_kg_m3: float | None = None) -> ObservationWeights:
        """
        Weigh all that was observed; `density_kg_m3` is the contents' mass over the cylinder's volume, if known.

        Raises
        ------
        InvalidEvidence
            Naming field, value and what was expected.
        """
        observations.check(seen)
        found = self._nothing
        if seen.combustible_gas is not None:
            found = _both(found, self._detector(sounded=seen.combustible_gas))
        if seen.liquid is not None and density_kg_m3 is not None:
            found = _both(found, self._level(seen.liquid, density_kg_m3))
        for index, composition in enumerate(seen.compositions):
            found = _both(found, self._composition(f"compositions.{index}.mass_fractions", composition))
        return found

    def _of_mixtures(self) -> Floats:
        """Chance [n, contaminants, shares] that the detector sounds for a mixture."""
        share = self._space.share.nodes
        first = self.sounds[:, None, None]
        second = self.sounds[self._space.contaminant_index][None, :, None]
        base = SOUNDS["1"]
        return np.maximum(
            base + (first - base) * np.minimum(1.0, (1.0 - share) / ENOUGH),
            base + (second - base) * np.minimum(1.0, share / ENOUGH),
        )

    def _several_shares(self) -> tuple[Floats, Floats]:
        """Mass fractions [n, draws] of the two others where several are mixed."""
        drawn = self._space.several
        both = self._space.share.nodes[drawn.share]
        return both * drawn.split, both * (1 - drawn.split)

    def _of_several(self) -> Floats:
        """Chance [n, draws] that the detector sounds for a mixture of three."""
        drawn, base = self._space.several, SOUNDS["1"]
        found = np.repeat(self.sounds[:, None], drawn.share.shape[1], axis=1)
        for which, share in zip((drawn.first, drawn.second), self._several_shares(), strict=True):
            own = self.sounds[self._space.contaminant_index[which]]
            found = np.maximum(found, base + (own - base) * np.minimum(1.0, share / ENOUGH))
        return found

    def _by_row(self, alone: Floats, mixed: Floats, several: Floats) -> NDArray[np.float32]:
        """A value [H] of each hypothesis, from that of designations alone and of mixtures."""
        rows = np.asarray(alone, dtype=np.float32)[self._space.row_designation]
        rows[self._space.blocks["mixed"].rows] = mixed.ravel()
        rows[self._space.blocks["several"].rows] = several.ravel()
        return rows

    def _densities(self) -> tuple[Floats, Floats]:
        """Densities [n, contaminants, shares] of the liquid and the vapor of mixtures [kg/m3]."""
        second, share = self._space.contaminant_index, self._space.share.nodes
        volume = (1 - share) / self._liquid[:, None, None] + share / self._liquid[second][None, :, None]
        return 1.0 / volume, (1 - share) * self._vapour[:, None, None] + share * self._vapour[second][
            None, :, None
        ]

    def row_level(self, rows: NDArray[np.intp], density_kg_m3: float) -> Floats:
        """Liquid fraction [rows] that a density of the contents asks of some hypotheses [-]."""
        liquid, vapour = self._row_liquid[rows].astype(float), self._row_vapour[rows].astype(float)
        return np.asarray((density_kg_m3 - vapour) / (liquid - vapour))

    def row_composition(
        self, space: HypothesisSpace, rows: NDArray[np.intp], least: float
    ) -> NDArray[np.intp]:
        """
        Number of the composition [rows] of some hypotheses, those within `least` [-] of each other being one.

        A second refrigerant below `least` is not seen; above, its share counts in steps of it.
        """
        if least not in self._compositions:
            self._compositions[least] = self._number(space, least)
        code = self._compositions[least][rows]
        met = np.zeros(space.size, dtype=np.bool_)
        met[code] = True
        found = np.flatnonzero(met)
        number = np.empty(space.size, dtype=np.intp)
        number[found] = np.arange(found.size)
        return np.asarray(number[code])

    def _number(self, space: HypothesisSpace, least: float) -> NDArray[np.int32]:
        """Number of the composition of every hypothesis [H], as `row_composition` tells them apart."""
        block, several = space.blocks["mixed"], space.blocks["several"].rows
        code = space.row_designation.astype(np.intp)
        _, second, share = np.unravel_index(np.arange(block.size), block.shape)
        step = np.floor(space.share.nodes[share] / least).astype(np.intp)
        n, partners = len(self.designations), len(space.contaminants)
        code[block.rows] += n * (second + 1 + partners * step) * (step > 0)
        code[several] = -1 - np.arange(several.start, several.stop)
        return np.unique(code, return_inverse=True)[1].astype(np.int32)

    def _detector(self, *, sounded: bool) -> ObservationWeights:
        alone, mixed, several = self.sounds, self._mixed_sounds, self._several_sounds
        if not sounded:
            return _logarithms(1.0 - alone, 1.0 - mixed, 1.0 - several, 1.0 - UNKNOWN_SOUNDS)
        return _logarithms(alone, mixed, several, UNKNOWN_SOUNDS)

    def expected_level(self, designation: int, density_kg_m3: float) -> float:
        """Liquid fraction that a density of the contents asks of one designation [-]."""
        liquid, vapour = float(self._liquid[designation]), float(self._vapour[designation])
        return (density_kg_m3 - vapour) / (liquid - vapour)

    def _level(self, seen: LiquidLevel, density: float) -> ObservationWeights:
        """The liquid fraction that the density asks of each content, against the one that was seen."""
        alone = _fits_level(seen, density, self._liquid, self._vapour)
        mixed = _fits_level(seen, density, *self._densities())
        return ObservationWeights(alone, alone, mixed, alone[:, None], 0.0)

    def _composition(self, field: str, found: Composition) -> ObservationWeights:
        measured: dict[str, float] = {}
        for name, share in found.mass_fractions.items():
            if name not in self._at:
                raise InvalidEvidence(field, name, "a designation of the catalogue, such as R-410A")
            for part, of_it in self._parts[self._at[name]].items():
                measured[part] = measured.get(part, 0.0) + share * of_it
        named = list(measured)
        off = np.array([[parts.get(part, 0.0) - measured[part] for part in named] for parts in self._parts])
        second = self._space.share.nodes[:, None]
        mixed = (1.0 - second) * off[:, None, None] + second * off[self._space.contaminant_index][:, None]
        wider, trust = float(np.hypot(found.uncertainty, SHIFTED_BY)), found.trust
        by_chance = max(LEAST_BY_CHANCE, float(self._field @ _fit(off, found.uncertainty)))
        return ObservationWeights(
            _trusted(_fit(off, found.uncertainty), trust, by_chance),
            _trusted(_fit(off, wider), trust, by_chance),
            _trusted(_fit(mixed, found.uncertainty), trust, by_chance),
            _trusted(_fit(self._off_by_several(off), found.uncertainty), trust, by_chance),
            float(np.log((1.0 - trust) * by_chance)),
        )

    def _off_by_several(self, off: Floats) -> Floats:
        """Distance [n, draws, parts] from a composition of mixtures of three, from that of designations [n, parts]."""
        drawn, second = self._space.several, self._space.contaminant_index
        one, two = (share[..., None] for share in self._several_shares())
        others = one * off[second[drawn.first]] + two * off[second[drawn.second]]
        return np.asarray((1 - one - two) * off[:, None] + others)


def _fits_level(seen: LiquidLevel, density: float, liquid: Floats, vapour: Floats) -> Floats:
    """Ln likelihood of a liquid fraction, over that of any fraction at all, for liquids of such densities."""
    room = liquid - vapour
    expected = (density - vapour) / room
    spread = np.hypot(seen.uncertainty, DENSITY_UNCERTAINTY * density / room)
    fit = np.exp(-0.5 * ((seen.fraction - expected) / spread) ** 2) / (np.sqrt(2 * np.pi) * spread)
    return np.asarray(np.log(LEVEL_TRUST * fit + (1.0 - LEVEL_TRUST)))


def _logarithms(alone: Floats, mixed: Floats, several: Floats, something_else: float) -> ObservationWeights:
    logs = np.log(alone)
    return ObservationWeights(logs, logs, np.log(mixed), np.log(several), float(np.log(something_else)))


def _fit(off: Floats, uncertainty: float) -> Floats:
    """How well distances [..., parts] from a composition fit it, one at none [-]."""
    return np.asarray(np.exp(-0.5 * (off**2).sum(axis=-1) / uncertainty**2))


def _trusted(fit: Floats, trust: float, by_chance: float) -> Floats:
    """Ln likelihood of a composition, for hypotheses that fit it so well.

    A wrong result names some other cylinder of the field as sharply as a right one (`by_chance`: how often that is one
    of such a composition), which bounds how much a result can say.
    """
    return np.asarray(np.log(trust * fit + (1.0 - trust) * by_chance))


def _both(one: ObservationWeights, other: ObservationWeights) -> ObservationWeights:
    return ObservationWeights(
        one.alone + other.alone,
        one.shifted + other.shifted,
        one.mixed + other.mixed,
        one.several + other.several,
        one.something_else + other.something_else,
    )


def _parts(name: str, catalogue: Mapping[str, Refrigerant]) -> dict[str, float]:
    return catalogue[name].mass_fractions if name in catalogue else {name: 1.0}


def _sounds(parts: Mapping[str, float], catalogue: Mapping[str, Refrigerant]) -> float:
    """Chance that the detector sounds for a blend: as for the part that it takes most notice of."""
    base = SOUNDS["1"]
    return max(base + (_alone(p, catalogue) - base) * min(1.0, w / ENOUGH) for p, w in parts.items())


def _alone(part: str, catalogue: Mapping[str, Refrigerant]) -> float:
    letters = catalogue[part].safety_class.value if part in catalogue else None
    return SOUNDS[letters[1:]] if letters else UNKNOWN_SOUNDS
