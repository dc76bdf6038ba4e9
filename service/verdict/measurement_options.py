"""What may be measured next, in words that can be followed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.codes import MeasurementCode
from service.verdict.model import CylinderFacts, Pair
from service.verdict.settings import VerdictSettings

REACHABLE_K = tuple(273.15 + c for c in (10, 20, 30, 38, 45))
"""By ice water, water bath or room (common practice); cylinders are never warmed above 52 °C (125 °F) [K]."""
LUKEWARM_K = 311.15
"""Room air and lukewarm water reach so far, 38 °C (100 °F) (common practice, no source) [K]."""
CODES: tuple[str, ...] = tuple(code for code in MeasurementCode if code is not MeasurementCode.OTHER)
"""Every code of a next measurement."""
BY_INSTRUMENT = frozenset(("combustible-gas", "liquid-level", "analyser"))
"""Of them, those that ask for more than gauge, thermometer and scale."""
_LEAST_CHANGE_K = 3.0
"""A temperature closer than this to a reading's is no other temperature (a choice) [K]."""


@dataclass(frozen=True, slots=True)
class Option:
    """
    One more measurement.

    Parameters
    ----------
    code : str
        Of `CODES`.
    action : str
        What to do.
    temp_k : float or None
        Of the cylinder, where a pair is read [K].
    pair : Pair or None
        What would be read, but for its values; None where it is no pair.
    """

    code: str
    action: str
    temp_k: float | None = None
    pair: Pair | None = None


WEIGH = Option("weigh", "Weigh the cylinder and enter the net mass.")
"""Weighing, which fixes how much of the volume is liquid."""
COMBUSTIBLE_GAS = Option(
    "combustible-gas",
    "Hold a combustible-gas detector at the valve outlet as the hose comes off, and enter whether it sounds. Do not "
    "vent refrigerant for it.",
)
"""A combustible-gas detector at the valve."""
LIQUID_LEVEL = Option(
    "liquid-level",
    "Find the liquid level: pour lukewarm water down one side, feel where the wall stays cold, and enter the height of "
    "that line.",
)
"""The level of the liquid, which with the weight gives its density."""
ANALYSER = Option("analyser", "Have a refrigerant analyzer measure the composition, and enter it.")
"""A composition by an analyzer."""


def of_instruments(facts: CylinderFacts, *, density_known: bool) -> list[Option]:
    """Measurements other than a pair that were not made yet."""
    seen = facts.observations
    found = []
    if facts.water_volume_m3 is not None and facts.net_mass_kg is None:
        found.append(WEIGH)
    if seen.combustible_gas is None:
        found.append(COMBUSTIBLE_GAS)
    if density_known and seen.liquid is None:
        found.append(LIQUID_LEVEL)
    if not seen.compositions:
        found.append(ANALYSER)
    return found


def of_pairs(pairs: Sequence[Pair], settings: VerdictSettings, *, may_be_full: bool) -> list[Option]:
    """
    Pairs that may be read: again, at another temperature, with a better instrument.

    Parameters
    ----------
    pairs
        Those read so far.
    settings
        What better instruments can do.
    may_be_full
        Whether the cylinder may be full of liquid; it is then never warmed.
    """
    last = min(pairs, key=lambda pair: abs(pair.temp_k - 298.15))
    options = [Option("repeat", "Repeat the same measurement.", last.temp_k, last)]
    for temp in REACHABLE_K:
        near = min(abs(temp - p.temp_k) for p in pairs) < _LEAST_CHANGE_K
        if near or (may_be_full and temp > last.temp_k):
            continue
        options.append(Option(*_bring_to(temp, last.temp_k), temp, replace(last, temp_k=temp)))
    finer = settings.better_thermometer_k
    thermometer = replace(
        last,
        temp_noise_k=min(finer, last.temp_noise_k),
        temp_bias_k=min(finer, last.temp_bias_k),
        temperature_device="\0better",
    )
    text = f"Read again with a thermometer good to {finer:g} K ({1.8 * finer:.1f} °F), well strapped and insulated."
    options.append(Option("better-thermometer", text, last.temp_k, thermometer))
    zero = min(settings.zeroed_gauge_pa, last.pressure_bias_pa)
    gauge = replace(last, pressure_bias_pa=zero, pressure_device="\0zeroed")
    options.append(Option("zero-gauge", "Zero the gauge in open air, then read again.", last.temp_k, gauge))
    return options


def _bring_to(temp: float, now: float) -> tuple[str, str]:
    celsius, fahrenheit = temp - 273.15, 1.8 * (temp - 273.15) + 32
    to = f"about {celsius:.0f} °C ({fahrenheit:.0f} °F)"
    if temp > max(now, LUKEWARM_K + 0.5):
        return (
            "warm",
            f"Warm the cylinder to {to} in a water bath with a thermometer in it, never above 50 °C (122 °F), let it "
            "settle, read again.",
        )
    if temp > now:
        return (
            "warm",
            f"Warm the cylinder to {to} with room air or lukewarm water, let it settle, read again.",
        )
    return "cool", f"Cool the cylinder to {to} with cool room air or ice water, let it settle, read again."
