"""A closed cylinder's charge: filled to a liquid fraction at 25 °C, where it stands when colder or warmer.

The volume is fixed, so the liquid fraction is another one at every temperature. The deviations are tabulated at
constant fractions; they and the dew curve lie nearly on a straight line over volume per mass, which a closed cylinder
keeps, and are joined there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.refrigerants.curves import SaturationCurves
from service.refrigerants.surfaces import Surfaces
from service.verdict import chebyshev

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Charges:
    """Charges of each designation, by their liquid fraction at 25 °C.

    Parameters
    ----------
    density_kg_m3 : ndarray[n, fills]
        Mass over the cylinder's volume [kg/m3].
    departure : ndarray[n, fills, SAMPLES]
        ln P less the bubble curve's at `basis.SAMPLE_TEMP_K` [-]; NaN where no liquid is left, or no curve.
    dry_k : ndarray[n, fills]
        Temperature at which the last liquid boils away [K]; infinite beyond the samples.
    """

    density_kg_m3: Floats
    departure: Floats
    dry_k: Floats

    def wet(self, temp_k: Floats) -> Bools:
        """Which charges [n, fills] still have liquid at all of the temperatures [K]."""
        return np.asarray(temp_k.max() < self.dry_k)


class ChargeBook:
    """
    Volume per mass [n, SAMPLES, fractions] and departure from the bubble curve, from all vapor to all liquid.

    `liquid` and `vapour` [n] are the saturated densities at 25 °C, or at the top of a curve that ends below [kg/m3].

    Parameters
    ----------
    curves, surfaces
        The tabulated saturation curves and deviations.
    """

    def __init__(self, curves: SaturationCurves, surfaces: Surfaces) -> None:
        temp = chebyshev.SAMPLE_TEMP_K
        self._fractions = np.concatenate([[0.0], surfaces.fill_nodes, [1.0]])
        known = np.nan_to_num(np.asarray(surfaces.fill, dtype=np.float64)) @ surfaces.temp_weights(temp)
        dew = curves.log_dew_pressure(temp) - curves.log_bubble_pressure(temp)
        dew = np.where(np.isfinite(dew), dew, known[:, 0])[:, None]
        self._departure = np.moveaxis(np.concatenate([dew, known, np.zeros_like(dew)], axis=1), 1, 2)
        self._liquid = np.exp(curves.log_liquid_density(temp))
        self._vapour = np.exp(curves.log_vapour_density(temp))
        self._volume = self._volume_at(self._fractions, self._departure)
        self._home = chebyshev.home_of(np.isfinite(self._liquid) & np.isfinite(self._vapour))
        rows = np.arange(self._home.size)
        self.liquid, self.vapour = self._liquid[rows, self._home], self._vapour[rows, self._home]

    def _volume_at(self, fractions: Floats, departure: Floats) -> Floats:
        """Volume per mass [n, t, fractions] [m3/kg]; vapor is denser in proportion to its pressure."""
        vapour = self._vapour[:, :, None] * np.exp(departure - self._departure[:, :, :1])
        return np.asarray(1 / (fractions * self._liquid[:, :, None] + (1 - fractions) * vapour))

    def charges(self, fills: Floats) -> Charges:
        """
        Closed cylinders filled to some liquid fractions at 25 °C, or at the top of a curve that ends below.

        Parameters
        ----------
        fills : ndarray[fills]
            Liquid volume fraction, rising, 0 to 1 [-].

        Returns
        -------
        Charges
            Of every designation.
        """
        rows = np.arange(self._home.size)
        nearly = self._home_departure(fills)[:, None]
        return self._closed(self._volume_at(fills, nearly)[rows, self._home])

    def heels(self, ratio: Floats) -> Charges:
        """
        Closed cylinders so nearly empty that they are told by their density.

        Parameters
        ----------
        ratio : ndarray[ratios]
            Density over the saturated vapor's at 25 °C, rising [-]; below one all is vapor there.

        Returns
        -------
        Charges
            Of every designation.
        """
        return self._closed(1 / (self.vapour[:, None] * ratio))

    def _closed(self, volume: Floats) -> Charges:
        """Charges of a volume per mass [n, charges] each [m3/kg]."""
        held = np.broadcast_to(volume[:, None], (*self._vapour.shape, volume.shape[1]))
        departure = interpolate(self._volume[..., ::-1], self._departure[..., ::-1], held)
        with np.errstate(invalid="ignore"):
            wet = held <= 1 / self._vapour[:, :, None]
        departure = np.where(wet, departure, np.nan)
        return Charges(1 / volume, np.moveaxis(departure, 1, 2), self._dry_k(volume))

    def _home_departure(self, fills: Floats) -> Floats:
        """Departure [n, fills] at home, over the vapor's share of the mass, in which it is nearly straight."""
        rows = np.arange(self._home.size)
        ratio = (self.vapour / self.liquid)[:, None]

        def quality(fraction: Floats) -> Floats:
            return np.asarray(ratio * (1 - fraction) / (ratio * (1 - fraction) + fraction))

        known = self._departure[rows, self._home]
        return interpolate(quality(self._fractions)[:, ::-1], known[:, ::-1], quality(fills))

    def _dry_k(self, volume: Floats) -> Floats:
        """Where the saturated vapor's density reaches the charge's [K], between two samples; else infinite."""
        temp = chebyshev.SAMPLE_TEMP_K
        above = np.log(self._vapour)[:, None, :] + np.log(volume)[:, :, None]
        crossed = above >= 0
        at = np.maximum(crossed.argmax(axis=2), 1)[:, :, None]
        before, after = (np.take_along_axis(above, i, axis=2)[..., 0] for i in (at - 1, at))
        at = at[..., 0]
        with np.errstate(invalid="ignore", divide="ignore"):
            between = temp[at - 1] + (temp[at] - temp[at - 1]) * before / (before - after)
        return np.where(crossed.any(axis=2), between, np.inf)


def interpolate(nodes: Floats, values: Floats, wanted: Floats) -> Floats:
    """
    Straight lines between the nodes of each row; the end values beyond them.

    Parameters
    ----------
    nodes, values : ndarray[..., k]
        Rising along the last axis [any].
    wanted : ndarray[..., w]
        Where [as the nodes].

    Returns
    -------
    ndarray[..., w]
        NaN where the row's nodes are.
    """
    with np.errstate(invalid="ignore"):
        after = (nodes[..., :, None] <= wanted[..., None, :]).sum(axis=-2).clip(1, nodes.shape[-1] - 1)
        low, high = (np.take_along_axis(nodes, i, axis=-1) for i in (after - 1, after))
        first, second = (np.take_along_axis(values, i, axis=-1) for i in (after - 1, after))
        share = np.clip((wanted - low) / (high - low), 0.0, 1.0)
    return np.asarray(first + share * (second - first))
