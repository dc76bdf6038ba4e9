"""What counts as settled: the budget, the risk that is taken, and for how long."""

from __future__ import annotations

from dataclasses import dataclass, field

from ingest.estimator.filter_settings import FilterSettings
from ingest.estimator.probe_offset import OffsetSettings


@dataclass(frozen=True, slots=True)
class SettlingSettings:
    """What counts as settled; each value a choice, tried in simulation (`ingest/how-well.md`).

    Parameters
    ----------
    budget_k : float
        Largest difference between clamp and saturation temperature that counts as settled, [K].
    risk_in, risk_out : float
        Probability of exceeding the budget at which a claim is made and dropped, [-].
    hold_s : float
        How long the risk must have been small, [s].
    gap_time_s : float
        Standard deviation of the gap between wall and surface per unit of drift, [s].
    gap_tail : float
        The gap's tail is longer than a normal one's: a claim takes it for so many times as wide, [-].
    first_pair_s : float
        No pair earlier than this after the clamp was put on, [s].
    first_pair_readings : int
        No pair from fewer readings of the clamp.
    model_k : float
        Uncertainty that no averaging removes, [K].
    moving_k_s : float
        Drift from which on the state is called warming or cooling, [K/s].
    disturbed_s : float
        How long a disturbance is shown, [s].
    offset_known_k : float
        Standard deviation below which the offset counts as known, [K].
    worst_pair_k : float
        A provisional pair less certain than this is not shown, [K].
    """

    budget_k: float = 0.25
    risk_in: float = 0.045
    risk_out: float = 0.20
    hold_s: float = 45.0
    gap_time_s: float = 550.0
    gap_tail: float = 1.6
    first_pair_s: float = 120.0
    first_pair_readings: int = 6
    model_k: float = 0.015
    moving_k_s: float = 1.4 / 3600.0
    disturbed_s: float = 60.0
    offset_known_k: float = 0.15
    worst_pair_k: float = 2.0
    bank: FilterSettings = field(default_factory=FilterSettings)
    offset: OffsetSettings = field(default_factory=OffsetSettings)
