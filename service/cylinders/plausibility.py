"""What is asked back instead of believed: figures that no cylinder has, and serials that cannot be told apart.

A doubt does not forbid: whoever typed the figure confirms it, and then it stands.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from service.cylinders.markings import Marks
from service.cylinders.properties import Saturation
from service.cylinders.water_capacity import KG_PER_POUND, water_volume_m3

_RATIO: Final = {"3": (0.4, 2.5), "4": (1.0, 3.0)}
"""Water capacity over tare by series: welded recovery cylinders lie between 1.5 and 2.2, seamless steel near 0.7,
seamless aluminum near 2 (common practice, no source) [-]."""
_RATIO_UNKNOWN: Final = (0.4, 3.0)
"""The same where the series is not known: both ranges together [-]; common practice, no source."""
LARGEST_4B_KG: Final = 1000.0 * KG_PER_POUND
"""49 CFR 178.50(a), 178.51(a), 178.61(a) (2015 edition, read): the 4B series is made up to 1000 lb of water [kg]."""
_PATH_SEPARATORS: Final = frozenset("/\\")


@dataclass(frozen=True, slots=True)
class Doubt:
    """A figure that needs to be confirmed: the field, the value as given [kg], and why."""

    field: str
    value_kg: float
    why: str


def stamp_doubts(marks: Marks, water_capacity_kg: float | None, tare_kg: float | None) -> tuple[Doubt, ...]:
    """
    Doubts about a cylinder's stamped figures.

    Parameters
    ----------
    marks : Marks
        The specification decides what is usual.
    water_capacity_kg, tare_kg : float or None
        As stamped [kg].
    """
    doubts = []
    family = (marks.specification or "")[:1]
    if water_capacity_kg is not None and family == "4" and water_capacity_kg >= LARGEST_4B_KG:
        why = f"{marks.specification} cylinders are made for less than 1,000 lb (454 kg) of water"
        doubts.append(Doubt("water_capacity_kg", water_capacity_kg, why))
    if water_capacity_kg and tare_kg:
        low, high = _RATIO.get(family, _RATIO_UNKNOWN)
        ratio = water_capacity_kg / tare_kg
        if not low <= ratio <= high:
            why = f"water capacity over tare is {ratio:.2g}, usual are {low:g} to {high:g}: check the units"
            doubts.append(Doubt("tare_kg", tare_kg, why))
    return tuple(doubts)


def most_that_fits_kg(
    designations: Iterable[str], water_capacity_kg: float, saturation: Saturation
) -> float | None:
    """
    The greatest net mass that could be in a cylinder: liquid-full of the densest believable content, cold [kg].

    Parameters
    ----------
    designations : iterable of str
        Every believable content.
    water_capacity_kg : float
        As stamped [kg].
    saturation : Saturation
        Curves; the density at their lower end is taken.

    Returns
    -------
    float or None
        None where no content is believable.
    """
    densities = [
        float(saturation.liquid_density_kg_m3(name, saturation.temp_range_k(name)[0]))
        for name in designations
    ]
    return max(densities) * water_volume_m3(water_capacity_kg) if densities else None


def net_mass_doubt(
    net_mass_kg: float, designations: Iterable[str], water_capacity_kg: float, saturation: Saturation
) -> Doubt | None:
    """Doubt about a net mass that no believable content reaches in this cylinder; None where it is possible."""
    most = most_that_fits_kg(designations, water_capacity_kg, saturation)
    if most is None or net_mass_kg <= most:
        return None
    why = f"no more than {most:.1f} kg of anything believable fits into it"
    return Doubt("net_mass_kg", net_mass_kg, why)


def serial_key(serial: str) -> str:
    """By what serials are compared: without case, without surrounding spaces, runs of spaces as one."""
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", serial).casefold())
    return " ".join(folded.split())


def unusable_characters(serial: str) -> str:
    """Characters of a serial that an address of a page cannot carry; empty where it can be one."""
    if serial.strip().strip(".") == "":
        return serial.strip()
    found = (
        character
        for character in serial
        if character in _PATH_SEPARATORS or unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}
    )
    return "".join(dict.fromkeys(found))
