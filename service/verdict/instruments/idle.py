"""Devices that hang on no cylinder: a gauge open to the air, thermometers of one shelf that see one air.

A gauge counts as open where it stays near zero for hours while the air around it warms or cools: gas that was
left in a hose would follow it (a degree changes 1 bar by 340 Pa). Thermometers beside each other are compared with the
median of all; where they do not see one air their difference wanders.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import Final

LONG_ENOUGH_S: Final = 6 * 3600.0
"""A night (a judgement) [s]."""
STILL_PA, STILL_K = 400.0, 0.4
"""Least to greatest of an error that counts as standing still (judgements) [Pa], [K]."""
NEAR_ZERO_PA: Final = 20e3
"""Further from zero a gauge is taken to be on something (a judgement) [Pa]."""
NEAR_K: Final = 3.0
"""A thermometer further from the others is taken to lie elsewhere (a judgement) [K]."""
WARMED_K: Final = 2.0
"""The air must have changed by so much for a still gauge to be an open one: gas in a hose would move 700 Pa
(computed, a judgement) [K]."""
LEAST_BESIDE: Final = 3
"""So many thermometers, itself included, tell which one is off [-]."""
OPEN_PA: Final = 300.0
"""Standard uncertainty of a zero that was read so (a judgement) [Pa]."""
AIR_K: Final = 0.25
"""How far the air at two places of a shelf may differ over a night, standard uncertainty (a judgement) [K]."""


def beside(shown_k: Sequence[float]) -> list[float]:
    """Each thermometer less the median of all [K]."""
    middle = median(shown_k)
    return [one - middle for one in shown_k]


def is_open_air(seconds: float, low_pa: float, high_pa: float, warmed_k: float | None) -> bool:
    """Whether a gauge that read between these for so long [s] hung open to the air."""
    near = max(abs(low_pa), abs(high_pa)) <= NEAR_ZERO_PA
    return (
        near
        and seconds >= LONG_ENOUGH_S
        and high_pa - low_pa <= STILL_PA
        and warmed_k is not None
        and warmed_k >= WARMED_K
    )


def saw_one_air(seconds: float, low_k: float, high_k: float, count: int) -> bool:
    """Whether thermometers whose difference lay between these for so long [s] saw one air."""
    return seconds >= LONG_ENOUGH_S and high_k - low_k <= STILL_K and count >= LEAST_BESIDE


def beside_uncertainty_k(class_k: float, count: int) -> float:
    """Standard uncertainty of an error against the median of so many thermometers of a class [K].

    The median of n normal values varies by 1.25 of what their mean does (for many; from memory).
    """
    return math.hypot(AIR_K, 1.25 * class_k / math.sqrt(count))
