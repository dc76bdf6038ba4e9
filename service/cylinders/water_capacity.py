"""Water capacity: the mass of water that a cylinder holds, by which it is stamped and filled.

49 CFR 173.304a(a)(2) note 1 (2015 edition, read): one pound of water takes 27.737 cubic inches at 60 °F. That
is the apparent weight in air, as a scale shows it, hence 0.1 % less dense than water is (999.0 kg/m3 at 60
°F).
"""

from typing import Final

from service.units import POUND_KG

KG_PER_POUND: Final = POUND_KG
"""The avoirdupois pound (by definition) [kg/lb]."""
CUBIC_INCH_M3: Final = 0.0254**3
"""Cubic inch (by definition) [m3]."""
WATER_KG_M3: Final = POUND_KG / (27.737 * CUBIC_INCH_M3)
"""By the definition above: 997.9 [kg/m3]."""


def water_volume_m3(water_capacity_kg: float) -> float:
    """Inner volume [m3] of a cylinder stamped with this water capacity [kg]."""
    return water_capacity_kg / WATER_KG_M3


def water_capacity_from_volume_m3(volume_m3: float) -> float:
    """Water capacity [kg] of an inner volume [m3]."""
    return volume_m3 * WATER_KG_M3
