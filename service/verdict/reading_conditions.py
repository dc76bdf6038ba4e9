"""How far a thermometer held to a cylinder by hand may be from the liquid inside, by how it was read.

Sun on the wall, contents that have not come to rest and a clamp in the open air each pull it away, independently of
each other. What nobody said counts as what is usual. The figures are judgements: without an answer a temperature is
good to 1.5 K, for readings taken for 0.3 K that were 2 K off made 10 of 48 clean cylinders a case to hold (simulated).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

IN_SUN_K, SUN_UNKNOWN_K = 2.5, 1.0
"""Sun on the cylinder, and where nobody said (judgements) [K]."""
JUST_MOVED_K, REST_UNKNOWN_K = 2.0, 0.8
"""Just moved, filled or warmed, and where nobody said (judgements) [K]."""
JUST_STOPPED_K = 8.0
"""The same of equipment (a judgement): 30 to 60 minutes after a stop the high side of one measured rig was still 3 to
5 K off [K]."""
HALF_TIME_MIN = 30.0
"""What rest does away with halves in so many minutes of rest (a judgement) [min]."""
BARE_CLAMP_K = 0.7
"""A clamp without insulation over it, which is usual (a judgement) [K]."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """
    How a temperature was read; None where nobody said.

    Parameters
    ----------
    in_sun : bool or None
        Sun on the cylinder, or within the last hour.
    at_rest_min : float or None
        Since it was moved, filled, emptied, warmed or cooled [min].
    clamp_insulated : bool or None
        Something that insulates covers the sensor.
    of_equipment : bool
        It is of equipment that was stopped, not of a cylinder.
    """

    in_sun: bool | None = None
    at_rest_min: float | None = None
    clamp_insulated: bool | None = None
    of_equipment: bool = False


UNKNOWN = Conditions()
"""Nobody said how it was read."""


def temperature_uncertainty_k(thermometer_k: float, conditions: Conditions = UNKNOWN) -> float:
    """
    Standard uncertainty of the liquid's temperature.

    Parameters
    ----------
    thermometer_k : float
        Of the thermometer's calibration [K].
    conditions : Conditions
        How it was read.

    Returns
    -------
    float
        Never less than the thermometer's own [K].
    """
    sun = SUN_UNKNOWN_K if conditions.in_sun is None else IN_SUN_K * conditions.in_sun
    clamp = 0.0 if conditions.clamp_insulated else BARE_CLAMP_K
    first_k = JUST_STOPPED_K if conditions.of_equipment else JUST_MOVED_K
    return hypot(thermometer_k, sun, _unrest_k(conditions.at_rest_min, first_k), clamp)


def _unrest_k(minutes: float | None, first_k: float) -> float:
    return REST_UNKNOWN_K if minutes is None else first_k * 0.5 ** (minutes / HALF_TIME_MIN)
