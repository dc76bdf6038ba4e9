"""Whether the clamp still sits as it did: its offset against the gauge before and after a disturbance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

UNSURE_K = 0.1
"""An offset seen while the cylinder drifted is doubtful by its gap; a probe that moved then must be seated anew."""
SURE_K = 0.1
"""An offset is compared with the one before the disturbance until it is known so well, or surely is the same, [K]."""


@dataclass(frozen=True, slots=True)
class SeatSettings:
    """What counts as moved.

    Parameters
    ----------
    jump_k : float
        Change of the offset that means that the probe has moved, [K].
    budget_k : float
        Change of the offset by which clamp and saturation temperature may differ and still count as settled, [K].
    jump_back_k : float
        The offset must come back to within this before a moved probe is trusted again, [K].
    gap_time_s : float
        Standard deviation of the gap between wall and surface per unit of drift, [s].
    slope_error : float
        Relative error of the pressure thermometer's slope, [-].
    """

    jump_k: float = 0.35
    budget_k: float = 0.25
    jump_back_k: float = 0.2
    gap_time_s: float = 430.0
    slope_error: float = 0.06


class Offset(NamedTuple):
    """The clamp's offset against the gauge, and where the cylinder was then."""

    offset_k: float
    variance: float
    temp_k: float
    drift_k_s: float


@dataclass(slots=True)
class Seat:
    """Follows the offset of one clamp; held from a disturbance until the offset is known again."""

    reference: Offset | None = None
    held: bool = False
    moved: bool = False
    doubtful: bool = False
    seated_anew: bool = False
    accepted: bool = False

    def disturbed(self, *, touched: bool) -> None:
        """Hold on to what was known before the disturbance, in which the clamp was touched or not."""
        self.held = self.reference is not None
        if not touched:
            return
        self.seated_anew = self.moved
        self.accepted = self.doubtful and not self.moved

    def forget(self) -> None:
        """What is in the cylinder has changed, and the offset with it."""
        self.reference, self.moved, self.doubtful = None, False, False

    def compare(self, now: Offset, settings: SeatSettings) -> None:
        """Take an offset that is known again, or follow the one of a quiet clamp."""
        before = self.reference
        if self.held and before is not None:
            unsure = abs(before.drift_k_s) * settings.gap_time_s > UNSURE_K
            if self.moved and unsure and not self.seated_anew:
                return
            if self.seated_anew:
                self.moved = self.seated_anew = False
            doubt, allowed = now.variance + before.variance, settings.jump_back_k
            if not self.moved:
                travel = settings.slope_error * (now.temp_k - before.temp_k)
                gap = settings.gap_time_s * (now.drift_k_s - before.drift_k_s)
                doubt, allowed = doubt + travel * travel + gap * gap, settings.jump_k
            changed = abs(now.offset_k - before.offset_k)
            self.moved = changed > allowed + 2.0 * math.sqrt(doubt)
            self.doubtful = not self.accepted and changed > settings.budget_k + math.sqrt(doubt)
            if self.moved or self.doubtful or math.sqrt(doubt) > max(SURE_K, settings.budget_k - changed):
                return
        self.held = self.doubtful = False
        self.reference = now
