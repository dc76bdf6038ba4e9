"""Whether a cylinder cools because its own liquid boils away.

Two things tell. Liquid that boils is colder than the wall that warms it, so the pressure falls ahead of the wall; air
cools the wall first, and the pressure follows. And air cools a cylinder no faster than its heat capacity lets it: the
fall of the temperature says how cold that air would have to be.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final, NamedTuple

from service.units import k_from_c

BEFORE_S: Final = 1800.0
"""How far back a course is looked at (a choice) [s]."""
WINDOWS_S: Final = (45.0, 75.0, 240.0)
"""A fast loss shows in a short window, a slow one in the long (a choice) [s]."""
CALM_S: Final = 420.0
"""What the lead is measured against is older than this, so that a slow loss is not measured against itself [s]."""
RECENT_S: Final = 40.0
"""The lead of the pressure is that of the points of so long before the newest (a choice) [s]."""
FEWEST: Final = 4
"""Points that a fall is read from."""
WALL_FALL_K: Final = 0.3
"""A wall that cools less than this within the window may be one of quiet contents (a judgement) [K]."""
WALL_FOLLOWS: Final = 0.15
"""A wall follows its liquid by this share at least; a hose that loses its pressure cools no wall (a judgement)
[-]."""
SURE: Final = 2.0
"""Standard errors of a slope that are given the benefit of the doubt (a choice) [-]."""
LAG_MARGIN_S: Final = 45.0
"""By how much a clamp may be slower than is known (a judgement) [s]."""
USUAL_LAG_S: Final = 60.0
"""Of a clamp whose lag has not been learned (a judgement) [s]."""
LEAD_K: Final = 2.5
"""How far the pressure must have run ahead of the wall (a judgement) [K]."""
LIQUID_FALL_K: Final = 1.0
"""How far the liquid must have cooled within the window, by its pressure (a judgement) [K]."""
JUMP_K: Final = 10.0
"""A hose that is vented falls further than this from one point to the next; liquid cannot (a judgement) [K]."""
ON_A_WHILE_S: Final = 600.0
"""A clamp that was put on this long ago has come to the wall's temperature (a judgement) [s]."""
COLDEST_AIR_K: Final = k_from_c(-45.0)
"""No weather that people work in and no cold store is colder (a judgement) [K]."""
MOST_APART_K: Final = 75.0
"""By how much air around a cylinder may be colder than what a thermometer at its place says: a van in the sun beside
a cold store (a judgement) [K]."""

STEEL_J_KG_K: Final = 480.0
"""Heat capacity of the steel shell (from memory) [J/(kg K)]."""
LIQUID_J_KG_K: Final = 1300.0
"""Heat capacity of a typical liquid refrigerant (a judgement) [J/(kg K)]."""
STRONGEST_FILM_W_M2_K: Final = 20.0
"""Heat transfer to moving air; still air has 5 to 10 (from memory) [W/(m2 K)]."""
SHELL_AREA_M2: Final = 7.2
"""Area of a shell that holds 1 m3; a shell of another size has it by the two thirds' power (estimated) [m2]."""
UNKNOWN_TAU_S: Final = 900.0
"""Of a cylinder of which too little is known: as quick as one that is nearly empty (a judgement) [s]."""

SaturationTemp = Callable[[float], float | None]
"""Temperature [K] at which a refrigerant boils under an absolute pressure [Pa]; None beyond its curve."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One point of a cylinder's course: seconds since any fixed time, wall temperature, absolute pressure."""

    at_s: float
    temp_k: float
    pressure_pa: float | None = None


@dataclass(frozen=True, slots=True)
class Recent:
    """What the devices on a cylinder, and those near it, said of late.

    Parameters
    ----------
    course : sequence of Moment
        The last half hour, oldest first, some 15 s apart.
    lag_s : float
        Of the clamp [s].
    nearby_k : sequence of float
        What other thermometers at its place say now [K].
    """

    course: Sequence[Moment]
    lag_s: float = USUAL_LAG_S
    nearby_k: Sequence[float] = ()


@dataclass(frozen=True, slots=True)
class Fall:
    """How a cylinder cooled.

    Parameters
    ----------
    wall_k_per_min : float
        Of the wall, above 0 when it cools [K/min].
    lead_k : float or None
        How far the pressure ran ahead of the wall, above 0 when it did [K].
    air_k : float
        The warmest air that would explain it [K].
    """

    wall_k_per_min: float
    lead_k: float | None
    air_k: float

    def is_boiling(self, coldest_air_k: float | None) -> bool:
        """Whether the pressure led; where it does not tell, whether the air would be colder than any that there is."""
        if self.lead_k is not None:
            return self.lead_k >= LEAD_K
        return coldest_air_k is not None and self.air_k < coldest_air_k


def quickest_tau_s(
    tare_kg: float | None, water_capacity_kg: float | None, net_mass_kg: float | None
) -> float:
    """Shortest time constant with which moving air cools a cylinder [s]."""
    if tare_kg is None or water_capacity_kg is None or net_mass_kg is None:
        return UNKNOWN_TAU_S
    area = SHELL_AREA_M2 * math.pow(water_capacity_kg / 1000.0, 2.0 / 3.0)
    capacity = STEEL_J_KG_K * tare_kg + LIQUID_J_KG_K * max(0.0, net_mass_kg)
    return capacity / (STRONGEST_FILM_W_M2_K * area)


def boiling_off(recent: Recent, saturation: Sequence[SaturationTemp], *, tau_s: float) -> Fall | None:
    """
    How a cylinder cools, where no air explains it.

    Parameters
    ----------
    recent : Recent
        What its devices said of late.
    saturation : sequence of SaturationTemp
        One for each refrigerant that it may hold: the least lead of them counts.
    tau_s : float
        Shortest time constant of the cylinder in air [s].

    Returns
    -------
    Fall or None
        None where the cylinder does not cool, or air may be the reason.
    """
    course = recent.course
    coldest_k = max([COLDEST_AIR_K, *(other - MOST_APART_K for other in recent.nearby_k)])
    on_a_while = bool(course) and course[-1].at_s - course[0].at_s >= ON_A_WHILE_S
    for window_s in WINDOWS_S:
        fall = _fall(recent, window_s, saturation, tau_s)
        if fall is not None and fall.is_boiling(coldest_k if on_a_while else None):
            return fall
    return None


def _fall(recent: Recent, window_s: float, saturation: Sequence[SaturationTemp], tau_s: float) -> Fall | None:
    """How the wall fell in the window that ends now; None where it is not sure that it did."""
    ages = [(recent.course[-1].at_s - one.at_s, one) for one in recent.course]
    window = [one for age_s, one in ages if age_s <= window_s]
    earlier = [one for age_s, one in ages if CALM_S < age_s <= BEFORE_S]
    if len(window) < FEWEST:
        return None
    wall = _line([(one.at_s, one.temp_k) for one in window])
    slowest = -(wall.slope + SURE * wall.error)
    if slowest * window_s < WALL_FALL_K:
        return None
    lagging_k = (recent.lag_s + LAG_MARGIN_S) * wall.slope
    leads = [_lead(earlier, window, one, lagging_k) for one in saturation]
    known = [one for one in leads if one is not None]
    lead = min(known) if known and len(known) == len(leads) else None
    return Fall(-60.0 * wall.slope, lead, window[-1].temp_k - tau_s * slowest)


def _lead(
    earlier: Sequence[Moment], window: Sequence[Moment], boils_at: SaturationTemp, lagging_k: float
) -> float | None:
    """How far the pressure is ahead of the wall, against the furthest that it was before; None if it does not tell."""
    before, lately = _boiling_temps(earlier, boils_at), _boiling_temps(window, boils_at)
    if len(lately) < FEWEST or len(before) < FEWEST:
        return None
    if any(first[1] - second[1] > JUMP_K for first, second in pairwise(lately)):
        return None
    liquid = _line([(at_s, boils) for at_s, boils, _ in lately])
    wall = _line([(at_s, temp) for at_s, _, temp in lately])
    if liquid.slope * (lately[-1][0] - lately[0][0]) > -LIQUID_FALL_K:
        return 0.0
    if -wall.slope < WALL_FOLLOWS * -liquid.slope:
        return None
    least = min(boils - temp for _, boils, temp in _smoothed(before))
    newest = lately[-1][0]
    return least - fmean(
        boils - temp - lagging_k for at_s, boils, temp in lately if newest - at_s <= RECENT_S
    )


def _boiling_temps(course: Sequence[Moment], boils_at: SaturationTemp) -> list[tuple[float, float, float]]:
    found = []
    for one in course:
        boils = None if one.pressure_pa is None else boils_at(one.pressure_pa)
        if boils is not None:
            found.append((one.at_s, boils, one.temp_k))
    return found


def _smoothed(points: Sequence[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Means of three neighbors, so that one noisy point decides nothing."""
    triples = zip(points, points[1:], points[2:], strict=False)
    return [tuple(fmean(column) for column in zip(*three, strict=True)) for three in triples]  # type: ignore[misc]


class _Line(NamedTuple):
    """Least-squares slope with its standard error."""

    slope: float
    error: float


def _line(points: Sequence[tuple[float, float]]) -> _Line:
    at, value = fmean(x for x, _ in points), fmean(y for _, y in points)
    spread = sum((x - at) ** 2 for x, _ in points)
    slope = sum((x - at) * (y - value) for x, y in points) / spread
    rest = sum((y - value - slope * (x - at)) ** 2 for x, y in points)
    return _Line(slope, math.sqrt(rest / max(1, len(points) - 2) / spread))
