"""Thresholds and costs of the verdict; every figure here is a judgement that an owner may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.codes import DispositionCode

WORLDS = ("clean", "mislabeled", "air", "shifted", "mixed", "vapour-only", "liquid-full", "unknown")
"""What a cylinder may turn out to be, as far as its disposition is concerned; `clean` is of what the label says, or of
the likeliest where there is no label, `mislabeled` clean and of something else."""


def _costs() -> dict[str, dict[str, float]]:
    """Cost of each choice in each world, in the price of one more measurement.

    The worst is passing a contaminated or mislabeled cylinder as clean: it spoils what it is put into.
    """
    rows = {
        DispositionCode.KEEP: (0.0, 15.0, 8.0, 6.0, 15.0, 5.0, 500.0, 12.0),
        DispositionCode.MEASURE_AGAIN: (1.0, 2.0, 2.0, 2.0, 5.0, 1.5, 60.0, 2.0),
        DispositionCode.HOLD: (4.0, 1.0, 4.0, 4.0, 4.5, 4.0, 1.0, 3.5),
        DispositionCode.RECOVER_AND_RECYCLE: (6.0, 15.0, 1.0, 5.0, 20.0, 6.0, 60.0, 15.0),
        DispositionCode.SEND_TO_RECLAIMER: (8.0, 5.0, 5.0, 1.0, 6.0, 8.0, 60.0, 8.0),
        DispositionCode.SEND_FOR_DESTRUCTION: (30.0, 25.0, 25.0, 20.0, 3.5, 25.0, 60.0, 20.0),
    }
    return {code: dict(zip(WORLDS, row, strict=True)) for code, row in rows.items()}


def _efforts() -> dict[str, float]:
    """What each measurement takes, in the price of one more pair at the same temperature."""
    return {
        "repeat": 1.0,
        "warm": 1.5,
        "cool": 1.5,
        "better-thermometer": 1.2,
        "zero-gauge": 1.1,
        "weigh": 0.3,
        "combustible-gas": 0.5,
        "liquid-level": 0.5,
        "analyser": 2.0,
    }


@dataclass(frozen=True, slots=True)
class VerdictSettings:
    """
    What a finding needs, and what choices cost.

    Parameters
    ----------
    identified : float
        Probability that one designation must hold [-].
    none_detected : float
        Probability of no contamination that `none-detected` needs [-].
    contaminated : float
        Probability of any contamination that naming one needs [-].
    claim_contradicted : float
        A label less probable than this is contradicted even where it is in the set [-].
    set_level : float
        Probability that the listed candidates hold together [-].
    state : float
        Probability that a state of the contents needs to be named [-].
    costs : Mapping
        Cost by choice and world, in the price of one more measurement.
    efforts : Mapping
        What each measurement takes, by code, likewise.
    better_thermometer_k : float
        Standard uncertainty of a calibrated thermometer in the next measurement [K].
    zeroed_gauge_pa : float
        Standard uncertainty of a gauge zeroed just before [Pa].
    worthwhile_bits : float
        Less expected information than this is not worth a measurement [bit].
    full_is_not_warmed : float
        From this probability of being full of liquid on, warming is not offered [-].
    limits_for : int
        Number of contaminants that detection limits are stated for.
    """

    identified: float = 0.90
    none_detected: float = 0.90
    contaminated: float = 0.90
    claim_contradicted: float = 0.02
    set_level: float = 0.95
    state: float = 0.90
    costs: Mapping[str, Mapping[str, float]] = field(default_factory=_costs)
    efforts: Mapping[str, float] = field(default_factory=_efforts)
    better_thermometer_k: float = 0.1
    zeroed_gauge_pa: float = 300.0
    worthwhile_bits: float = 0.05
    full_is_not_warmed: float = 0.01
    limits_for: int = 14
