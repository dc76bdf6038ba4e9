"""Whether there is any liquid: a gas's pressure follows temperature an eighth as steeply as a saturated liquid's."""

from __future__ import annotations

from dataclasses import dataclass, field

BLOCK_S = 180.0
"""Readings are averaged over so long before their travel is compared (chosen in simulation) [s]."""
ENOUGH_K = 1.5
"""The clamp must have travelled so far before liquid can be tested (chosen in simulation), [K]."""
LEAST_RATIO = 0.35
"""Travel of z(P) over the clamp's: vapor alone stays below (-0.33 to 0.21 in simulation), liquid above (0.50)."""
AFTER_S = 600.0
"""Not before the clamp's own lag has gone (a choice), [s]."""
LOOK_S, TOUCHED_K = 60.0, 0.3
"""A clamp that was touched or has slipped moves by more than this in a minute after it was noticed; a cylinder's
wall moves by less (simulation and judgement, no source), [s] and [K]."""


@dataclass(slots=True)
class TwoPhaseTest:
    """Coldest and warmest three-minute means since the clamp was last touched, as (clamp, z), [K]."""

    since_s: float
    block_end_s: float = 0.0
    sums: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    coldest: tuple[float, float] | None = None
    warmest: tuple[float, float] | None = None
    doubted: tuple[float, float] | None = None

    def doubt(self, time_s: float, clamp_k: float) -> None:
        """Note that the clamp at `clamp_k` [K] is not where it was expected: touched, or with no liquid behind it."""
        self.doubted = (time_s, clamp_k)
        self.sums = [0.0, 0.0, 0.0]

    def take(self, time_s: float, clamp_k: float, z_k: float) -> None:
        """Take one bin's clamp and z(P), [K]."""
        if self.doubted is not None:
            since_s, then_k = self.doubted
            if time_s - since_s < LOOK_S:
                return
            self.doubted = None
            if abs(clamp_k - then_k) > TOUCHED_K:
                self.since_s, self.coldest, self.warmest = since_s, None, None
        if time_s - self.since_s < AFTER_S:
            return
        if time_s >= self.block_end_s:
            self._close()
            self.block_end_s = time_s + BLOCK_S
        sums = self.sums
        sums[0] += 1.0
        sums[1] += clamp_k
        sums[2] += z_k

    def _close(self) -> None:
        count, clamps, zs = self.sums
        self.sums = [0.0, 0.0, 0.0]
        if not count:
            return
        block = (clamps / count, zs / count)
        if self.coldest is None or block[0] < self.coldest[0]:
            self.coldest = block
        if self.warmest is None or block[0] > self.warmest[0]:
            self.warmest = block

    @property
    def has_liquid(self) -> bool | None:
        """Whether there is liquid, or None while the temperature has not moved enough to tell."""
        if self.coldest is None or self.warmest is None:
            return None
        travelled = self.warmest[0] - self.coldest[0]
        if travelled < ENOUGH_K:
            return None
        return (self.warmest[1] - self.coldest[1]) / travelled >= LEAST_RATIO
