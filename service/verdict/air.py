"""How much air: partial pressure, share of the vapor, mass with what is dissolved in the liquid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from service.verdict import chebyshev
from service.verdict.hypotheses import HypothesisSpace
from service.verdict.model import AirEstimate, CylinderFacts
from service.verdict.posterior import Posterior
from service.verdict.quadrature_grids import REFERENCE_TEMP_K

Floats = NDArray[np.float64]

RECLAIM_LIMIT_SHARE = 0.015
"""Air and other non-condensables, 1.5 % by volume of the vapor at 25 °C: 40 CFR 82 subpart F App. A (read,
2015 edition); not for low-pressure refrigerants [-]."""
_LOW_PRESSURE_K, _LOW_PRESSURE_PA = 313.15, 310.3e3
"""Low-pressure refrigerants: saturation under 45 psia at 104 °F, same source (read)."""
_AIR_KG_MOL = 0.0289652
"""Molar mass of dry air (from memory) [kg/mol]."""
_GAS_CONSTANT = 8.314462618
"""Molar gas constant (CODATA, exact since 2019) [J/(mol K)]."""


def estimate(
    posterior: Posterior, space: HypothesisSpace, designation: int, facts: CylinderFacts
) -> AirEstimate | None:
    """
    Air at 25 °C, given that the cylinder holds this designation with air.

    Parameters
    ----------
    posterior : Posterior
        Of the pairs.
    space : HypothesisSpace
        Its rows.
    designation : int
        Index of the refrigerant.
    facts : CylinderFacts
        The water capacity turns pressure into mass.

    Returns
    -------
    AirEstimate or None
        None where air in this designation has no probability at all.
    """
    table = _with_oil(posterior, space, designation)
    total = float(table.sum())
    if total <= 0.0:
        return None
    pressure = table.sum(axis=1) / total
    fill = float(table.sum(axis=0) @ space.air_fill.nodes) / total
    low, middle, high = (_quantile(space.air.edges, pressure, q) for q in (0.025, 0.5, 0.975))
    at_25 = chebyshev.values(np.array([REFERENCE_TEMP_K]))[:, 0]
    saturation = float(np.exp(space.clean[designation] @ at_25))
    share = middle / (middle + saturation)
    solubility = float(space.air_solubility[designation])
    dissolved = solubility * fill / (solubility * fill + 1 - fill)
    return AirEstimate(
        partial_pressure_pa=middle,
        partial_pressure_low_pa=low,
        partial_pressure_high_pa=high,
        vapour_volume_share=share,
        vapour_volume_share_low=low / (low + saturation),
        vapour_volume_share_high=high / (high + saturation),
        excess_share=None if _is_low_pressure(space, designation) else max(0.0, share - RECLAIM_LIMIT_SHARE),
        mass_kg=_mass(middle, fill, dissolved, facts.water_volume_m3),
        dissolved_fraction=dissolved,
    )


def _with_oil(posterior: Posterior, space: HypothesisSpace, designation: int) -> Floats:
    """Weight [pressures, fills] of air in one designation, with oil dissolved in it or without."""
    plain, oily = space.blocks["air"], space.blocks["oily-air"]
    table = posterior.table(plain)[designation].astype(float)
    coarse = posterior.table(oily)[designation].astype(float).sum(axis=2)
    return np.asarray(table + space.oily_air.spread_over(space.air).T @ coarse)


def _is_low_pressure(space: HypothesisSpace, designation: int) -> bool:
    at = chebyshev.values(np.array([_LOW_PRESSURE_K]))[:, 0]
    return bool(np.exp(space.clean[designation] @ at) < _LOW_PRESSURE_PA)


def _mass(pressure: float, fill: float, dissolved: float, volume_m3: float | None) -> float | None:
    """Mass of air in vapor and liquid together [kg]; the headspace alone holds too little."""
    if volume_m3 is None:
        return None
    headspace = pressure * volume_m3 * (1 - fill) / (_GAS_CONSTANT * REFERENCE_TEMP_K) * _AIR_KG_MOL
    return headspace / (1 - dissolved)


def _quantile(edges: Floats, mass: Floats, level: float) -> float:
    return float(np.interp(level, np.concatenate([[0.0], np.cumsum(mass)]), edges))
