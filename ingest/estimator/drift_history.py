"""How the drift was a quarter of an hour ago: whether it dies away tells how long that will take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

EVERY_S = 900.0
"""A drift is compared with one that is once to twice as old (a choice), [s]."""
KNOWN_AFTER_S = 600.0
"""So long after a disturbance the drift begins to be known (a choice), [s]."""
GROWN, GROWN_K_S = 1.3, 0.5 / 3600.0
"""A drift that has grown by this factor and by so much [K/s] is not one that is left to die away
(a choice) [-], [K/s]."""


class DriftMark(NamedTuple):
    """The mixture's drift at a time: [s] since 1970 UTC, [K/s]."""

    at_s: float
    drift_k_s: float


@dataclass(slots=True)
class DriftHistory:
    """The drift at the first and the last two marks since the last disturbance.

    `is_driven` once it has grown: sun, a belt or the air's own change keeps it up.
    """

    first: DriftMark | None = None
    older: DriftMark | None = None
    newer: DriftMark | None = None
    is_driven: bool = False

    def is_due(self, time_s: float, opened_s: float) -> bool:
        """Whether the drift should be noted at a time, with the last disturbance at `opened_s` [s]."""
        since_s = opened_s + KNOWN_AFTER_S if self.newer is None else self.newer.at_s + EVERY_S
        return time_s >= since_s

    def note(self, time_s: float, drift_k_s: float) -> None:
        """Note the drift [K/s] at a time [s]."""
        self.older, self.newer = self.newer, DriftMark(time_s, drift_k_s)
        self.first = self.first or self.newer
        before = abs(self.first.drift_k_s)
        self.is_driven |= abs(drift_k_s) > max(GROWN * before, before + GROWN_K_S)

    def decay_rate(self, time_s: float, drift_k_s: float) -> float | None:
        """Return how fast the drift dies away to what it is now [1/s]; negative if it grows.

        None while no drift is known that is `EVERY_S` old, and where the drift has turned round.
        """
        marks = [mark for mark in (self.newer, self.older) if mark and time_s - mark.at_s >= EVERY_S]
        if not marks or marks[0].drift_k_s * drift_k_s <= 0.0:
            return None
        before = marks[0]
        return math.log(before.drift_k_s / drift_k_s) / (time_s - before.at_s)
