"""Quantities on paper, in the owner's units and with the digits that a trade scale bears."""

from typing import Final, Literal

from service.units import kpa_from_pa, lb_from_kg, psi_from_pa

Units = Literal["inch-pound", "si"]
NONE: Final = "-"


def mass(mass_kg: float | None, units: Units) -> str:
    """A mass [kg] as ``35.4 lb`` or ``16.05 kg``; a dash where it is not known."""
    if mass_kg is None:
        return NONE
    return f"{lb_from_kg(mass_kg):.1f} lb" if units == "inch-pound" else f"{mass_kg:.2f} kg"


def gauge_pressure(pressure_pa: float | None, units: Units) -> str:
    """A gauge pressure [Pa] as ``400 psig`` or ``2758 kPa``."""
    if pressure_pa is None:
        return NONE
    return (
        f"{psi_from_pa(pressure_pa):.0f} psig"
        if units == "inch-pound"
        else f"{kpa_from_pa(pressure_pa):.0f} kPa gauge"
    )
