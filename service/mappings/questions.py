"""Values that look like another unit: asked about, never changed."""

from collections.abc import Sequence
from statistics import median

from service.mappings.units import UNITS, in_si

BELIEVABLE = {
    "wall-temperature": (228.0, 328.0),
    "ambient-temperature": (228.0, 328.0),
    "gauge-pressure": (-1.0e5, 4.5e6),
    "absolute-pressure": (1.0e3, 4.6e6),
    "ambient-pressure": (5.0e4, 1.1e5),
    "mass": (0.0, 700.0),
    "battery": (0.0, 100.0),
}
"""What a cylinder in a shop, a van or on a site shows in [K], [Pa], [kg], [%] (a judgement, no source)."""
NEAR_K = 12.0
"""Cylinders of one shop differ in temperature by less than this on most days (a judgement, no source) [K]."""
LIKELY = {
    "wall-temperature": ("Cel", "[degF]"),
    "ambient-temperature": ("Cel", "[degF]"),
    "gauge-pressure": ("[psi]", "bar", "kPa", "Pa"),
    "absolute-pressure": ("[psi]", "bar", "kPa", "Pa"),
    "ambient-pressure": ("hPa", "kPa", "[in_i'Hg]", "Pa"),
    "mass": ("kg", "[lb_av]", "g"),
    "battery": ("%", "1"),
}
"""Units that instruments of the trade show, of which one is taken for another."""


def other_unit(quantity: str, unit: str, value: float, others: Sequence[float] = ()) -> str | None:
    """
    The unit that a value is more likely in than the one it is read in, or None.

    Parameters
    ----------
    quantity
        What it is.
    unit
        UCUM code that it is read in.
    value
        The number in that unit [-].
    others
        What other devices of the place say of the same quantity at this time, in SI units [Pa], [K], [kg].

    Returns
    -------
    str or None
        Only a unit in which the value is believable; with others, of temperatures, one by which it is near them while
        the unit stated is not.
    """
    si = in_si(quantity, unit, value)
    candidates = [one for one in LIKELY[quantity] if one != unit and one in UNITS[quantity]]
    if not _believable(quantity, si):
        return next((one for one in candidates if _believable(quantity, in_si(quantity, one, value))), None)
    if not quantity.endswith("temperature") or not others:
        return None
    middle = median(others)
    if abs(si - middle) <= NEAR_K:
        return None
    return next((one for one in candidates if abs(in_si(quantity, one, value) - middle) <= NEAR_K), None)


def _believable(quantity: str, si: float) -> bool:
    low, high = BELIEVABLE[quantity]
    return low <= si <= high
