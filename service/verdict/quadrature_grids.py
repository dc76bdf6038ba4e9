"""Grids on which the one free parameter of each hypothesis is integrated out, with their priors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REFERENCE_TEMP_K = 298.15
"""Fills and partial pressures are stated at 25 °C (a choice) [K]."""
MEAN_AIR_PA = 40e3
"""Mean of the exponential prior of air's partial pressure at 25 °C [Pa]; a judgement, no source."""
FILL_RANGE = (0.0, 0.85)
"""Liquid volume fraction where mass or capacity is unknown [-]; a judgement, no source."""
OVERFILLED, OVERFILLED_SHARE = 0.98, 0.02
"""Up to this fraction there is still vapor, and so many cylinders are filled beyond the range (judgements, no
source) [-]."""
SHARE_RANGE = (0.005, 0.5)
"""Mass fraction of the second refrigerant, log-uniform: dense at the small end (a choice) [-]."""
LOSS_RANGE = (0.02, 0.7)
"""Mass fraction of the charge lost as vapor, uniform (a choice) [-]."""
BOILED_DRY = (1.0, 1.1, 1.22, 1.37, 1.55)
"""Edges of density over the saturated vapor's at 25 °C: liquid is left there, and none at up to 40 °C (a choice)
[-]."""
MEAN_OIL, MOST_OIL = 0.005, 0.03
"""Dissolved oil takes so much of the refrigerant's pressure: mean of an exponential prior, and its end [-]. By Raoult's
law 2 % by mass of an oil of 300 to 500 g/mol takes about 0.4 to 0.6 %, 10 to 12 % some 3; more than that is not
recovered (oils from memory; judgements, no source). Decided by what it costs (`tests.benchmarks.oil_prior`): another
refrigerant that lowers the pressure, 10 to 40 % of it under the right label at 0.3 K, is held 75 % of the time without
oil, 68 % with this, 53 % with a mean of 0.8 % and an end of 7 %; cylinders with oil that takes 1.5 % are kept 65, 79
and 79 % (simulated). A wider one would take R-454B, 5 % below R-410A, for R-410A with oil."""
SEVERAL_RANGE = (0.06, 0.5)
"""Mass fraction of all that is not the main refrigerant where three or more are mixed, uniform (a judgement) [-]."""
RECORDED_LOSS_SD = 0.05
"""How far a recorded loss may be from the loss that shifted the liquid: weights, and vapor drawn too fast for
equilibrium [-]; a judgement, no source."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Nodes [k] of one parameter, the edges [edges] of their cells, both in its unit, and their prior mass [k] [-]."""

    nodes: Floats
    edges: Floats
    mass: Floats

    def spread_over(self, finer: Grid) -> Floats:
        """Share [nodes, finer nodes] of each cell that falls into each of a finer grid's, by prior mass [-]."""
        low, high = self.edges[:-1, None], self.edges[1:, None]
        shares = ((finer.nodes[None, :] >= low) & (finer.nodes[None, :] < high)) * finer.mass
        return np.asarray(shares / np.maximum(shares.sum(axis=1, keepdims=True), 1e-300))

    @property
    def log_mass(self) -> Floats:
        """Logarithm [nodes] of the prior masses [-]."""
        return np.log(self.mass)

    def log_mass_about(self, value: float | None) -> Floats:
        """
        Logarithm of the prior masses once a value is recorded.

        Parameters
        ----------
        value : float or None
            What was recorded; None leaves the grid as it is [-].

        Returns
        -------
        ndarray
            Normalised, with a tenth left to what the record may have missed.
        """
        if value is None:
            return self.log_mass
        near = self.mass * np.exp(-0.5 * ((self.nodes - value) / RECORDED_LOSS_SD) ** 2)
        near = near / near.sum() if near.sum() > 0.0 else self.mass
        return np.log(0.9 * near + 0.1 * self.mass)


def _edges(nodes: Floats, low: float, high: float) -> Floats:
    return np.concatenate([[low], (nodes[1:] + nodes[:-1]) / 2, [high]])


def _uniform(nodes: Floats, low: float, high: float) -> Grid:
    edges = _edges(nodes, low, high)
    mass = np.diff(edges)
    return Grid(nodes, edges, mass / mass.sum())


def _filling(nodes: Floats) -> Grid:
    """Uniform over the usual range; the last node stands for an overfilled cylinder."""
    low, high = FILL_RANGE
    edges = np.concatenate([_edges(nodes[:-1], low, high), [OVERFILLED]])
    mass = np.diff(edges)
    mass *= np.where(
        nodes < high, (1 - OVERFILLED_SHARE) / (high - low), OVERFILLED_SHARE / (OVERFILLED - high)
    )
    return Grid(nodes, edges, mass)


def fill_grid() -> Grid:
    """Liquid volume fraction at 25 °C for one refrigerant alone; denser where a blend's pressure bends."""
    nodes = [0.004, 0.012, 0.024, 0.04, 0.062, 0.09, 0.125, 0.175, 0.245, 0.33, 0.45, 0.60, 0.775, 0.91]
    return _filling(np.array(nodes))


def air_fill_grid() -> Grid:
    """Liquid volume fraction at 25 °C under air."""
    return _filling(np.array([0.012, 0.045, 0.12, 0.25, 0.43, 0.69, 0.91]))


def air_grid() -> Grid:
    """Partial pressure of air at 25 °C [Pa], exponential; cells widen with pressure."""
    steps = np.concatenate([np.full(14, 3e3), np.full(10, 6e3), np.full(12, 12e3), np.full(4, 30e3)])
    edges = np.concatenate([[0.0], np.cumsum(steps)])
    nodes = (edges[1:] + edges[:-1]) / 2
    survival = np.exp(-edges / MEAN_AIR_PA)
    survival[-1] = 0.0
    return Grid(nodes, edges, survival[:-1] - survival[1:])


def _oil(edges: Floats) -> Grid:
    survival = np.exp(-edges / MEAN_OIL)
    mass = survival[:-1] - survival[1:]
    # The mean of an exponential density within each cell.
    nodes = MEAN_OIL + (edges[:-1] * survival[:-1] - edges[1:] * survival[1:]) / mass
    return Grid(nodes, edges, mass / mass.sum())


def oil_grid() -> Grid:
    """Share of the pressure that dissolved oil takes of a refrigerant alone, exponential [-]."""
    return _oil(np.array([0.0, 0.002, 0.005, 0.009, 0.016, MOST_OIL]))


def oily_air_grids() -> tuple[Grid, Grid]:
    """Partial pressure of air at 25 °C [Pa] and share that oil takes [-], where there are both: coarser."""
    edges = 1e3 * np.array([0, 6, 12, 18, 24, 33, 42, 54, 66, 84, 102, 126, 162, 246, 366.0])
    survival = np.exp(-edges / MEAN_AIR_PA)
    survival[-1] = 0.0
    air = Grid((edges[1:] + edges[:-1]) / 2, edges, survival[:-1] - survival[1:])
    return air, _oil(np.array([0.0, 0.006, MOST_OIL]))


def share_grid() -> Grid:
    """Mass fraction of a second refrigerant, log-uniform."""
    low, high = SHARE_RANGE
    fine = np.geomspace(low, 0.06, 9)
    edges = np.concatenate([fine, np.linspace(0.06, high, 17)[1:]])
    nodes = np.sqrt(edges[1:] * edges[:-1])
    mass = np.log(edges[1:] / edges[:-1])
    return Grid(nodes, edges, mass / mass.sum())


def loss_grid() -> Grid:
    """Mass fraction of a blend lost as vapor, uniform."""
    low, high = LOSS_RANGE
    edges = np.linspace(low, high, 18)
    nodes = (edges[1:] + edges[:-1]) / 2
    return _uniform(nodes, low, high)


def vapour_grid() -> Grid:
    """Pressure without liquid, as a share of saturation at 25 °C: mostly uniform, heels below."""
    edges = np.concatenate([np.geomspace(2e-4, 0.05, 9), np.linspace(0.05, 1.0, 20)[1:]])
    nodes = np.sqrt(edges[1:] * edges[:-1])
    low, high = edges[:-1], edges[1:]
    mass = 0.9 * np.clip(high - np.maximum(low, 0.03), 0.0, None) / 0.97
    mass += 0.1 * np.clip(np.log(np.minimum(high, 0.05) / np.minimum(low, 0.05)), 0.0, None) / np.log(250.0)
    return Grid(nodes, edges, mass / mass.sum())


def boiled_dry_mass(liquid_over_vapour: Floats) -> Floats:
    """
    Prior mass of the liquid fractions that are gone once the vapor can hold all.

    Parameters
    ----------
    liquid_over_vapour : ndarray[n]
        Ratio of the saturated densities at 25 °C [-].

    Returns
    -------
    ndarray[n, 4]
        Of the cells between `BOILED_DRY`, in terms of `fill_grid`'s prior.
    """
    low, high = FILL_RANGE
    fill = np.diff(BOILED_DRY) / (liquid_over_vapour[:, None] - 1.0)
    return np.asarray((1 - OVERFILLED_SHARE) * fill / (high - low))


def overpressure_grid() -> Grid:
    """Pressure of a liquid-full cylinder above saturation [Pa], log-uniform from 0.2 to 60 bar."""
    edges = np.geomspace(2e4, 6e6, 9)
    nodes = np.sqrt(edges[1:] * edges[:-1])
    return Grid(nodes, edges, np.full(8, 1 / 8))


@dataclass(frozen=True, slots=True)
class Grids:
    """All grids of the two-phase states; `oily_air` and `airy_oil` where there are both air and oil."""

    fill: Grid
    air_fill: Grid
    air: Grid
    share: Grid
    loss: Grid
    oil: Grid
    oily_air: Grid
    airy_oil: Grid


def grids() -> Grids:
    """The grids of this module."""
    return Grids(
        fill_grid(), air_fill_grid(), air_grid(), share_grid(), loss_grid(), oil_grid(), *oily_air_grids()
    )


def neighbour_gap(values: Floats, axis: int = -1) -> Floats:
    """
    Half the distance between the neighbors of each node: the width of its cell in that quantity.

    Parameters
    ----------
    values : ndarray
        ln P [ln Pa] at the nodes along `axis`.
    axis : int
        Axis of the nodes.

    Returns
    -------
    ndarray
        Same shape, never negative.
    """
    if values.shape[axis] < 2:
        return np.zeros_like(values)
    return np.abs(np.gradient(values, axis=axis))
