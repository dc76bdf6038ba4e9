"""Repeated pairs of one state become one pair, so that copies bring only what their noise allows.

Pairs of the same two devices at nearly the same temperature say the same thing again: their mean keeps the
shared biases whole and shrinks only the noise. Where they scatter more than their noise allows, the noise is
raised to the scatter (Birge's ratio).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from service.verdict.evidence import REFERENCE_SLOPE_PER_K
from service.verdict.model import Pair

SAME_STATE_K = 0.5
"""Temperatures closer than this are one state (a choice) [K]."""
MAX_STATES = 8
"""More states than this are joined further, nearest first: they add next to nothing."""


def condense(pairs: Sequence[Pair], *, same_k: float = SAME_STATE_K, limit: int = MAX_STATES) -> list[Pair]:
    """
    Join repeated pairs.

    Parameters
    ----------
    pairs : sequence of Pair
        Checked, in any order.
    same_k : float
        Temperatures closer than this are one state [K].
    limit : int
        Greatest number of pairs to return.

    Returns
    -------
    list of Pair
        In order of devices and temperature.
    """
    groups: dict[tuple[str, str], list[list[Pair]]] = {}
    for pair in sorted(pairs, key=_order):
        states = groups.setdefault(_devices(pair), [])
        if states and pair.temp_k - states[-1][0].temp_k <= same_k:
            states[-1].append(pair)
        else:
            states.append([pair])
    if sum(len(states) for states in groups.values()) > max(limit, len(groups)):
        return condense(pairs, same_k=1.5 * same_k, limit=limit)
    return [_mean(members) for states in groups.values() for members in states]


def _devices(pair: Pair) -> tuple[str, str]:
    return pair.temperature_device or "", pair.pressure_device or ""


def _order(pair: Pair) -> tuple[object, ...]:
    noise = (pair.temp_noise_k, pair.pressure_noise_pa, pair.temp_bias_k, pair.pressure_bias_pa)
    return (*_devices(pair), pair.temp_k, pair.pressure_pa, *noise, pair.gain_bias, pair.atmosphere_bias_pa)


def _noise(pair: Pair) -> float:
    """Independent noise of ln P [-], the thermometer's included; never quite zero."""
    return math.hypot(
        pair.pressure_noise_pa / pair.pressure_pa, REFERENCE_SLOPE_PER_K * pair.temp_noise_k, 1e-5
    )


def _mean(members: Sequence[Pair]) -> Pair:
    if len(members) == 1:
        return members[0]
    weights = [_noise(pair) ** -2 for pair in members]
    total = sum(weights)
    shares = [w / total for w in weights]
    temp = sum(s * p.temp_k for s, p in zip(shares, members, strict=True))
    log_pressure = sum(s * math.log(p.pressure_pa) for s, p in zip(shares, members, strict=True))
    ratio = _birge(members, weights, temp, log_pressure)

    def noise(name: str) -> float:
        squares = [(s * float(getattr(p, name))) ** 2 for s, p in zip(shares, members, strict=True)]
        return ratio * math.sqrt(sum(squares))

    def bias(name: str) -> float:
        return sum(s * float(getattr(p, name)) for s, p in zip(shares, members, strict=True))

    return replace(
        members[0],
        temp_k=temp,
        pressure_pa=math.exp(log_pressure),
        temp_noise_k=noise("temp_noise_k"),
        pressure_noise_pa=noise("pressure_noise_pa"),
        temp_bias_k=bias("temp_bias_k"),
        pressure_bias_pa=bias("pressure_bias_pa"),
        gain_bias=bias("gain_bias"),
        atmosphere_bias_pa=bias("atmosphere_bias_pa"),
    )


def _birge(members: Sequence[Pair], weights: Sequence[float], temp: float, log_pressure: float) -> float:
    """How much wider than their noise the members scatter about a typical slope, at least 1 [-]."""
    chi_squared = sum(
        w * (math.log(p.pressure_pa) - log_pressure - REFERENCE_SLOPE_PER_K * (p.temp_k - temp)) ** 2
        for w, p in zip(weights, members, strict=True)
    )
    return max(1.0, math.sqrt(chi_squared / (len(members) - 1)))
