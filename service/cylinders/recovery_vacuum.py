"""To what vacuum equipment is drawn down at the end of a recovery, and how long it holds: 40 CFR 82.156."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.cylinders.properties import Saturation
from service.cylinders.rules import CFR_2015, Rule
from service.units import STANDARD_ATMOSPHERE_PA, k_from_f, kg_from_lb, pa_from_psi

IN_HG_PA: Final = 3386.389
"""Conventional inch of mercury at 0 °C (from memory) [Pa]."""
MM_HG_PA: Final = IN_HG_PA / 25.4
"""Millimeter of mercury, from the inch (by definition) [Pa]."""
CLASS_K: Final = k_from_f(104.0)
"""Temperature at which a refrigerant's pressure decides its class, 104 °F (40 CFR 82.152, 2015 edition, read) [K]."""
LARGE_KG: Final = kg_from_lb(200.0)
"""Charge from which on an appliance is drawn down further, 200 lb (40 CFR 82.156(a) table 1, read) [kg]."""
NEW_MACHINE: Final = date(1993, 11, 15)
"""First day of the recovery machines with the stricter levels (40 CFR 82.156(a) table 1, read)."""
LOW_PRESSURE_PA: Final = 25.0 * MM_HG_PA
"""Level of low-pressure appliances, 25 mm Hg absolute (40 CFR 82.156(a) table 1, read) [Pa]."""
SMALL_IN_HG: Final = 4.0
"""Level of small appliances, vacuum (40 CFR 82.156(b) of the 2015 edition, read) [in Hg]."""
HOLD_MINUTES: Final = 5.0
"""With the machine off: refrigerant left in oil or in a cold corner shows by then (SAE J1989 3.2.1, read) [min]."""
ROUNDING_PA: Final = 1.0
"""A pressure this close to the level has reached it: the rounding of a conversion (a choice) [Pa]."""

LEVELS = Rule(
    "recovery-vacuum", "40 CFR 82.156(a), table 1", "text of a mirror, read 2026-11", "read",
    "Before equipment is opened or disposed of, it is evacuated to the level for its pressure class, its charge and "
    "the date of the recovery machine; a technician verifies that it has been reached.",
)  # fmt: skip
SMALL = Rule(
    "recovery-small-appliance", "40 CFR 82.156(b), (a)(4) of the 2015 edition", CFR_2015, "read",
    "Out of a small appliance 90 % of the charge is recovered, 80 % where its compressor does not run or the recovery "
    "machine is from before 15 November 1993, or it is evacuated to 4 in Hg.",
)  # fmt: skip
LEAKING = Rule(
    "recovery-vacuum-not-attainable", "40 CFR 82.156(a)(2)", CFR_2015, "read",
    "Where leaks make the level unattainable, what leaks is isolated and the rest evacuated as far as it goes, at most "
    "to atmospheric pressure.",
)  # fmt: skip
HELD = Rule(
    "recovery-vacuum-held", "SAE J1989 3.2.1, in 40 CFR 82 subpart B app. A", CFR_2015, "read",
    "With the recovery machine off for at least 5 minutes the equipment is still at the level; where its pressure has "
    "risen, refrigerant is left and recovery goes on. Written for vehicle air conditioning, taken for all equipment.",
)  # fmt: skip


class PressureClass(StrEnum):
    """By the pressure of the boiling liquid at 104 °F."""

    VERY_HIGH = "very-high-pressure"
    HIGH = "high-pressure"
    MEDIUM = "medium-pressure"
    LOW = "low-pressure"


_FROM_PSIA: Final = (
    (355.0, PressureClass.VERY_HIGH),
    (170.0, PressureClass.HIGH),
    (45.0, PressureClass.MEDIUM),
)
"""Above these absolute pressures at 104 °F: 40 CFR 82.152, 2015 edition, read [psi]."""
_IN_HG: Final = {
    (PressureClass.VERY_HIGH, False): (0.0, 0.0),
    (PressureClass.VERY_HIGH, True): (0.0, 0.0),
    (PressureClass.HIGH, False): (0.0, 0.0),
    (PressureClass.HIGH, True): (4.0, 10.0),
    (PressureClass.MEDIUM, False): (4.0, 10.0),
    (PressureClass.MEDIUM, True): (4.0, 15.0),
}
"""Class and whether the charge is large, to the vacuum for an old and a new machine [in Hg]: table 1, read."""


@dataclass(frozen=True, slots=True)
class Level:
    """
    What the equipment has to be drawn down to.

    Parameters
    ----------
    rule
        Where it stands.
    pressure_pa
        Greatest absolute pressure, against the standard atmosphere [Pa].
    share
        Or this share of the charge recovered instead [-]; None where the vacuum alone counts.
    why
        Class, charge and machine, in words.
    """

    rule: Rule
    pressure_pa: float
    share: float | None
    why: str

    def is_met(
        self, reached_pa: float | None, atmosphere_pa: float, recovered_share: float | None = None
    ) -> bool:
        """
        Whether the job is done.

        Parameters
        ----------
        reached_pa
            Absolute pressure of the equipment [Pa]; None where nobody read it.
        atmosphere_pa
            Outside; equipment above it has not been evacuated, whatever the standard atmosphere is [Pa].
        recovered_share
            Of the expected charge [-].
        """
        if self.share is not None and recovered_share is not None and recovered_share >= self.share - 1e-9:
            return True
        return reached_pa is not None and reached_pa <= min(self.pressure_pa, atmosphere_pa) + ROUNDING_PA


def pressure_class(designation: str | None, saturation: Saturation) -> PressureClass | None:
    """The class of a refrigerant, by 40 CFR 82.152; None where its curve does not tell.

    Very high also where the critical temperature lies below 104 °F; there the curve ends below it and above 355 psia.
    """
    if designation is None:
        return None
    low, high = saturation.temp_range_k(designation)
    if low > CLASS_K:
        return None
    at = float(saturation.bubble_pressure_pa(designation, min(CLASS_K, high)))
    found = next((name for psia, name in _FROM_PSIA if at > pa_from_psi(psia)), PressureClass.LOW)
    # A curve that ends below 104 °F bounds the pressure there from below only.
    return found if high >= CLASS_K or found is PressureClass.VERY_HIGH else None


def level(held: PressureClass | None, charge_kg: float | None, machine_made_on: date | None) -> Level:
    """
    The level of table 1; what is not known is taken as what asks for more.

    Parameters
    ----------
    held
        Class of the refrigerant.
    charge_kg
        Full charge of the equipment [kg].
    machine_made_on
        Day on which the recovery machine was made or imported.
    """
    if held is None:
        return Level(LEVELS, LOW_PRESSURE_PA, None, "25 mm Hg absolute: the refrigerant's class is not known")
    if held is PressureClass.LOW:
        return Level(LEVELS, LOW_PRESSURE_PA, None, "25 mm Hg absolute: a low-pressure appliance")
    large = charge_kg is None or charge_kg >= LARGE_KG
    in_hg = _IN_HG[held, large][_is_new(machine_made_on)]
    charge = "unknown charge" if charge_kg is None else "200 lb or more" if large else "less than 200 lb"
    why = f"{in_hg:g} in Hg vacuum: a {held} appliance, {charge}, {_machine(machine_made_on)}"
    return Level(LEVELS, STANDARD_ATMOSPHERE_PA - in_hg * IN_HG_PA, None, why)


def small_appliance_level(machine_made_on: date | None, *, compressor_runs: bool) -> Level:
    """The level of an appliance made with at most 5 lb and sealed in a factory."""
    share = 0.9 if compressor_runs and _is_new(machine_made_on) else 0.8
    why = f"{100 * share:g} % of the charge or 4 in Hg: a small appliance, {_machine(machine_made_on)}"
    return Level(SMALL, STANDARD_ATMOSPHERE_PA - SMALL_IN_HG * IN_HG_PA, share, why)


def held_minutes(readings: Sequence[tuple[float, float]], level_pa: float) -> float:
    """
    How long the equipment has stayed at the level.

    Parameters
    ----------
    readings
        Time [s] and absolute pressure [Pa], oldest first, with the machine off.
    level_pa
        Greatest absolute pressure [Pa].

    Returns
    -------
    float
        From the first of the readings that have all been at the level until the last one [min].
    """
    begun = None
    for at, pressure_pa in readings:
        if pressure_pa > level_pa + ROUNDING_PA:
            begun = None
        elif begun is None:
            begun = at
    return 0.0 if begun is None else (readings[-1][0] - begun) / 60.0


def _is_new(machine_made_on: date | None) -> bool:
    return machine_made_on is None or machine_made_on >= NEW_MACHINE


def _machine(machine_made_on: date | None) -> str:
    return (
        f"a machine from {'15 November 1993 on' if _is_new(machine_made_on) else 'before 15 November 1993'}"
    )
