"""How the drift was a quarter of an hour ago: whether it dies away tells how long that will take."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ingest.estimator.probe_offset import NO_SHIFT, Offset, OffsetSettings, Shift, shift

EVERY_S = 900.0
"""A drift is compared with one that is once to twice as old (a choice), [s]."""
KNOWN_AFTER_S = 600.0
"""So long after a disturbance the drift begins to be known (a choice), [s]."""
GROWN, GROWN_K_S = 1.3, 0.5 / 3600.0
"""A drift that has grown by this factor and by so much [K/s] is not one that is left to die away
(a choice) [-], [K/s]."""
CREEP_DECAY_S = 6000.0
"""Time in which a cylinder's difference from the air dies away (a judgement), [s]."""


@dataclass(slots=True)
class DriftHistory:
    """The drift at the first and the last two marks since the last disturbance.

    `is_driven` once it has grown: sun, a belt or the air's own change keeps it up.
    """

    first: Offset | None = None
    older: Offset | None = None
    newer: Offset | None = None
    is_driven: bool = False

    def is_due(self, time_s: float, opened_s: float) -> bool:
        """Whether the drift should be noted at a time, with the last disturbance at `opened_s` [s]."""
        since_s = opened_s + KNOWN_AFTER_S if self.newer is None else self.newer.stamp_s + EVERY_S
        return time_s >= since_s

    def note(self, now: Offset) -> None:
        """Note drift and offset."""
        self.older, self.newer, drift_k_s = self.newer, now, now.drift_k_s
        self.first = self.first or self.newer
        before = abs(self.first.drift_k_s)
        self.is_driven |= abs(drift_k_s) > max(GROWN * before, before + GROWN_K_S)

    def decay_rate(self, time_s: float, drift_k_s: float) -> float | None:
        """Return how fast the drift dies away to what it is now [1/s]; negative if it grows.

        None while no drift is known that is `EVERY_S` old, and where the drift has turned round.
        """
        before = self._before(time_s)
        if before is None or before.drift_k_s * drift_k_s <= 0.0:
            return None
        return math.log(before.drift_k_s / drift_k_s) / (time_s - before.stamp_s)

    def _before(self, time_s: float) -> Offset | None:
        """Return the newest mark that is `EVERY_S` old at a time [s], or None."""
        return next(
            (one for one in (self.newer, self.older) if one and time_s - one.stamp_s >= EVERY_S), None
        )

    def creep(self, now: Offset, settings: OffsetSettings, budget_k: float) -> Shift:
        """Return what the offset's own drift leaves open: a clamp with poor contact closes up as its cylinder settles.

        A drift that dies away with time constant `CREEP_DECAY_S` has as much before it as its rate times that.
        """
        before = self._before(now.stamp_s)
        if before is None:
            return NO_SHIFT
        ahead = CREEP_DECAY_S / (now.stamp_s - before.stamp_s)
        travel_k = settings.slope_error * (now.temp_k - before.temp_k)
        variance = (now.variance + before.variance + travel_k * travel_k) * ahead * ahead
        return shift((now.offset_k - before.offset_k) * ahead, variance, budget_k, settings, settings.creeps)
