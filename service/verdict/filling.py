"""What net mass and water capacity say about the liquid fraction, for each designation.

Mass over volume is a density; given the designation it is a reading of the liquid fraction, and how well any
fraction explains it also weighs the states: all vapor, liquid under vapor, liquid-full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.verdict.closed_cylinder import ChargeBook, Charges
from service.verdict.errors import InvalidEvidence
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import CylinderFacts
from service.verdict.observations import LEVEL_TRUST, LiquidLevel
from service.verdict.quadrature_grids import Grid, boiled_dry_mass
from service.verdict.single_phase import SinglePhaseBook

Floats = NDArray[np.float64]

DENSITY_UNCERTAINTY = 0.03
"""Scale, tare and stamped capacity together, relative [-]; a judgement, no source (a choice)."""
SCALE_UNCERTAINTY = 0.002
"""What scale and tare leave of an empty cylinder's mass, over a cylinder full of liquid (a judgement, no source)
[-]."""
GAS_DENSITY, GAS_SPREAD = 3.0, 4.0
"""Density of air or nitrogen alone, from the atmosphere's to a holding charge of 1 MPa, and its standard deviation
(judgements, no source) [kg/m3]."""
_FULL_SPREAD = 0.04
"""How far a liquid-full cylinder's density may lie from the saturated liquid's at the reading, relative (a judgement,
no source) [-]."""


@dataclass(frozen=True, slots=True)
class FillWeights:
    """ln of prior mass times likelihood of the weighed density [-], for each designation.

    Parameters
    ----------
    alone, air : ndarray[n, fills]
        Per node of the fill grids.
    two_phase, full : ndarray[n]
        With the fraction integrated out.
    vapour : ndarray[n, shares]
        Per node of the vapor grid, and of the cells between `BOILED_DRY`.
    gas : float
        Of air or nitrogen alone.
    """

    alone: Floats
    air: Floats
    two_phase: Floats
    full: Floats
    vapour: Floats
    gas: float = 0.0


class FillBook:
    """Densities of saturated liquid and vapor at 25 °C, [n] each [kg/m3], and the grids they weigh."""

    def __init__(self, charges: ChargeBook, space: HypothesisSpace, single: SinglePhaseBook) -> None:
        fill, air_fill = space.fill, space.air_fill
        self._space = space
        self.liquid, self.vapour = charges.liquid, charges.vapour
        n = self.liquid.size
        self._density_edges = self.vapour[:, None] * single.density_edges
        boiled = np.log(boiled_dry_mass(self.liquid / self.vapour))
        self._log_vapour = np.concatenate([np.tile(single.vapour.log_mass, (n, 1)), boiled], axis=1)
        zeros = np.zeros(n)
        self._unknown = FillWeights(
            alone=np.tile(fill.log_mass, (n, 1)),
            air=np.tile(air_fill.log_mass, (n, 1)),
            two_phase=zeros,
            full=zeros,
            vapour=self._log_vapour,
        )

    def weights(self, facts: CylinderFacts) -> FillWeights:
        """
        Weights of the fill grids for one cylinder.

        Parameters
        ----------
        facts : CylinderFacts
            Mass and capacity, either may be unknown.

        Returns
        -------
        FillWeights
            The priors alone where mass or capacity is unknown.
        """
        density, level = overall_density(facts), facts.observations.liquid
        if density is None:
            return self._unknown if level is None else self._seen(level)
        space = self._space
        alone = self._two_phase(space.fill, space.charges, density)
        return FillWeights(
            alone=alone,
            air=self._two_phase(space.air_fill, space.air_charges, density),
            two_phase=np.logaddexp.reduce(alone, axis=1),
            full=_log_normal(density, self.liquid, np.hypot(DENSITY_UNCERTAINTY, _FULL_SPREAD) * self.liquid),
            vapour=self._vapour_only(density),
            gas=self._gas(density),
        )

    def _seen(self, level: LiquidLevel) -> FillWeights:
        """A level that was seen, of contents of unknown weight: there is liquid, and so much of it."""
        alone, air = (
            np.tile(grid.log_mass + _of_level(level, grid), (self.liquid.size, 1))
            for grid in (self._space.fill, self._space.air_fill)
        )
        none = np.full(self.liquid.size, np.log1p(-LEVEL_TRUST))
        return FillWeights(
            alone=alone,
            air=air,
            two_phase=np.logaddexp.reduce(alone, axis=1),
            full=none,
            vapour=self._log_vapour + none[:, None],
            gas=float(none[0]),
        )

    def _two_phase(self, grid: Grid, charges: Charges, density: float) -> Floats:
        expected = charges.density_kg_m3
        cell = np.diff(grid.edges) / 2 * (self.liquid - self.vapour)[:, None]
        return grid.log_mass + _log_normal(density, expected, self._spread(expected, cell))

    def _vapour_only(self, density: float) -> Floats:
        edges = self._density_edges
        expected, cell = (edges[:, 1:] + edges[:, :-1]) / 2, np.diff(edges, axis=1) / 2
        return self._log_vapour + _log_normal(density, expected, self._spread(expected, cell))

    def _gas(self, density: float) -> float:
        spread = np.hypot(GAS_SPREAD, SCALE_UNCERTAINTY * self.liquid.mean())
        return float(_log_normal(density, np.array(GAS_DENSITY), np.asarray(spread)))

    def _spread(self, expected: Floats, cell: Floats) -> Floats:
        """Of the weighed density about an expected one [n, nodes] whose cell is so wide; all [kg/m3]."""
        least = SCALE_UNCERTAINTY * self.liquid[:, None]
        return np.sqrt((DENSITY_UNCERTAINTY * expected) ** 2 + cell**2 + least**2)


def _of_level(level: LiquidLevel, grid: Grid) -> Floats:
    """Ln likelihood of a level at the nodes of a grid, over that of any level at all."""
    spread = np.hypot(level.uncertainty, np.diff(grid.edges) / 2)
    fit = np.exp(-0.5 * ((level.fraction - grid.nodes) / spread) ** 2) / (np.sqrt(2 * np.pi) * spread)
    return np.asarray(np.log(LEVEL_TRUST * fit + (1.0 - LEVEL_TRUST)))


def overall_density(facts: CylinderFacts) -> float | None:
    """
    Net mass over water capacity [kg/m3].

    Parameters
    ----------
    facts : CylinderFacts
        Mass and capacity, either may be unknown.

    Returns
    -------
    float or None
        None where either is unknown.

    Raises
    ------
    InvalidEvidence
        For a capacity or mass that no cylinder has.
    """
    volume, mass = facts.water_volume_m3, facts.net_mass_kg
    if volume is not None and not 1e-4 <= volume <= 2.0:
        raise InvalidEvidence("water_volume_m3", volume, "a capacity from 0.0001 to 2 m3")
    if mass is not None and not 0.0 <= mass <= 5000.0:
        raise InvalidEvidence("net_mass_kg", mass, "a mass from 0 to 5000 kg")
    if volume is None or mass is None:
        return None
    return mass / volume


def _log_normal(value: float, mean: Floats, spread: Floats) -> Floats:
    return np.asarray(-0.5 * ((value - mean) / spread) ** 2 - np.log(spread))
