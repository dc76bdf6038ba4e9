"""Whether the clamp still sits where it did: its offset against the gauge before and after a disturbance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

UNSURE_K = 0.1
"""An offset seen while the cylinder drifted is doubtful by its gap; a probe that moved then must be put on again (a
choice) [K]."""


@dataclass(frozen=True, slots=True)
class OffsetSettings:
    """What counts as moved; each value a choice, tried in simulation (`ingest/how-well.md`).

    Parameters
    ----------
    jump_k : float
        Change of the offset that means that the probe has moved, [K].
    forgets_k : float
        What was settled is known less surely with time: standard deviation (judgement, no source), [K/sqrt(h)].
    jump_back_k : float
        The offset must come back to within this before a moved probe is trusted again, [K].
    gap_time_s : float
        Standard deviation of the gap between wall and surface per unit of drift, [s].
    slope_error : float
        Relative error of the pressure thermometer's slope, [-].
    """

    jump_k: float = 0.35
    forgets_k: float = 0.2
    jump_back_k: float = 0.2
    gap_time_s: float = 430.0
    slope_error: float = 0.06


class Offset(NamedTuple):
    """The clamp's offset against the gauge, its variance [K2], and where the cylinder was then, at `stamp_s` [s]."""

    offset_k: float
    variance: float
    temp_k: float
    drift_k_s: float
    stamp_s: float = 0.0


@dataclass(slots=True)
class OffsetMonitor:
    """Follows the offset of one clamp; held from a disturbance until the offset is known again."""

    reference: Offset | None = None
    settled: Offset | None = None
    held: bool = False
    moved: bool = False
    doubtful: bool = False
    reattached: bool = False

    def disturbed(self, *, touched: bool) -> None:
        """Hold on to what was known before the disturbance, in which the clamp was touched or not."""
        self.held = self.reference is not None
        if touched:
            self.reattached = self.moved

    def forget(self) -> None:
        """What is in the cylinder has changed, and the offset with it."""
        self.reference = self.settled = None
        self.moved = self.doubtful = False

    def check_settled(
        self, now: Offset, settings: OffsetSettings, budget_k: float, *, is_settled: bool
    ) -> None:
        """Remember the offset of a settled state, or doubt one that is more than the budget [K] away from it."""
        before = self.settled
        if is_settled:
            self.settled, self.doubtful = now, False
        elif before is not None:
            variance = _variance(now, before, settings)
            variance += settings.forgets_k**2 * (now.stamp_s - before.stamp_s) / 3600.0
            self.doubtful = abs(now.offset_k - before.offset_k) > budget_k + math.sqrt(variance)

    def compare(self, now: Offset, settings: OffsetSettings) -> None:
        """Take an offset that is known again, or follow the one of a quiet clamp."""
        before = self.reference
        if self.held and before is not None:
            unsure = abs(before.drift_k_s) * settings.gap_time_s > UNSURE_K
            if self.moved and unsure and not self.reattached:
                return
            if self.reattached:
                self.moved = self.reattached = False
            variance, allowed = now.variance + before.variance, settings.jump_back_k
            if not self.moved:
                variance, allowed = _variance(now, before, settings), settings.jump_k
            self.moved = abs(now.offset_k - before.offset_k) > allowed + 2.0 * math.sqrt(variance)
            if self.moved:
                return
        self.held = False
        self.reference = now


def _variance(now: Offset, before: Offset, settings: OffsetSettings) -> float:
    """Return the variance [K2] by which two offsets of a clamp that has not moved may differ."""
    travel = settings.slope_error * (now.temp_k - before.temp_k)
    gap = settings.gap_time_s * (now.drift_k_s - before.drift_k_s)
    return now.variance + before.variance + travel * travel + gap * gap
