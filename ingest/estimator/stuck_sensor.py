"""A sensor that repeats one level while the other one travels does not follow the cylinder."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

LEAST_READINGS = 8
"""So many readings of one level before a sensor may be called stuck (a choice)."""
TRAVEL_STEPS, TRAVEL_K = 1.2, 0.35
"""The other sensor must have travelled so many steps of this one and so much more (chosen in simulation), [-] and
[K]."""
LEAST_NOISE = 0.1
"""With less noise than this share of its step a sensor repeats its levels by nature (a choice), [-]."""


def probability_of_run(readings: int, noise_steps: float, places: tuple[float, ...]) -> float:
    """Return how likely a sensor at rest is to repeat one level.

    Parameters
    ----------
    readings : int
        How many readings have been the same.
    noise_steps : float
        Standard deviation of one reading over the sensor's step, [-].
    places : tuple of float
        Where the value may lie in its step, each as likely, from the middle in steps, [-].

    Returns
    -------
    float
        Probability, [-]; 1.0 for a sensor with next to no noise, which repeats its levels by nature.
    """
    if noise_steps < LEAST_NOISE:
        return 1.0
    scale = 1.0 / (math.sqrt(2.0) * noise_steps)
    same = [0.5 * (math.erf((0.5 - place) * scale) + math.erf((0.5 + place) * scale)) for place in places]
    return sum(one ** (readings - 1) for one in same) / len(same)


class Repetition(NamedTuple):
    """Since when a sensor repeats a level: its count of changes, where the other was then, readings since."""

    changes: int
    other_k: float
    readings: int


class SensorLevels(NamedTuple):
    """One sensor in one bin: its count of level changes, its readings, its step and the other's value, [K]."""

    changes: int
    readings: int
    step_k: float
    other_k: float


@dataclass(slots=True)
class StuckWatch:
    """Watches one sensor's quantization levels against the other's travel."""

    repetition: Repetition = field(default=Repetition(-1, 0.0, 0))
    is_stuck: bool = False

    def take(self, levels: SensorLevels, *, may_judge: bool) -> None:
        """Take one bin; unless `may_judge`, the watch starts over, but a sensor found to be stuck stays so."""
        if levels.changes != self.repetition.changes or not (may_judge or self.is_stuck):
            self.repetition = Repetition(levels.changes, levels.other_k, 0)
        else:
            self.repetition = self.repetition._replace(readings=self.repetition.readings + levels.readings)
        travelled = abs(levels.other_k - self.repetition.other_k)
        enough = travelled > TRAVEL_STEPS * levels.step_k + TRAVEL_K
        self.is_stuck = self.repetition.readings >= LEAST_READINGS and enough
