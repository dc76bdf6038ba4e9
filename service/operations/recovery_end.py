"""How a recovery ends: the vacuum against the law's level, the mass against the charge, and what has to be said."""

from dataclasses import dataclass
from typing import Any

from service.cylinders import recovery_vacuum
from service.cylinders.recovery import needs_explaining
from service.cylinders.recovery_vacuum import Level, pressure_class
from service.operations import places
from service.operations.atmosphere import PressureReading, absolute, atmosphere_at
from service.operations.context import Services
from service.operations.errors import Conflict, Reason
from service.operations.recovery_turns import Closed
from service.store import places as stored_places
from service.store.cylinders import Cylinder
from service.store.recoveries import Recovery
from service.store.work import Work
from service.units import STANDARD_ATMOSPHERE_PA


@dataclass(frozen=True, slots=True)
class Ending:
    """
    What somebody says at the end.

    Parameters
    ----------
    closed
        The last cylinder, its line off.
    pressure
        Of the equipment, with the machine off.
    held_minutes
        How long it stayed there.
    vacuum_reason
        Why the level was not reached: leaks.
    difference_reason
        Why more or less came out than the charge.
    """

    closed: Closed
    pressure: PressureReading | None = None
    held_minutes: float | None = None
    vacuum_reason: str | None = None
    difference_reason: str | None = None


def required(services: Services, recovery: Recovery, law: str) -> Level | None:
    """The level that the law asks for; None where no level of that law was read."""
    if law != "us":
        return None
    if recovery.small_appliance:
        return recovery_vacuum.small_appliance_level(
            recovery.machine_made_on, compressor_runs=recovery.compressor_runs
        )
    held = pressure_class(recovery.designation, services.knowledge.saturation)
    return recovery_vacuum.level(held, recovery.expected_kg, recovery.machine_made_on)


def decide(
    services: Services,
    work: Work,
    recovery: Recovery,
    cylinder: Cylinder,
    recovered_kg: float,
    ending: Ending,
) -> dict[str, Any]:
    """
    How it ended, as kept with the recovery.

    Parameters
    ----------
    services, work
        What may be used, and the open transaction.
    recovery
        The recovery.
    cylinder
        Its last cylinder: its place is the equipment's, for elevation and law.
    recovered_kg
        Into all of its cylinders [kg].
    ending
        What is said.

    Raises
    ------
    Conflict
        When the vacuum or the mass needs a reason that nobody gave.
    """
    law, elevation_m = place_of(services, work, cylinder)
    level = required(services, recovery, law)
    reached, outside = _pressures(ending.pressure, elevation_m)
    share = recovered_kg / recovery.expected_kg if recovery.expected_kg else None
    met = None if level is None else level.is_met(reached, outside, share)
    asked = []
    if level is not None and not met and not ending.vacuum_reason:
        asked.append(_vacuum_missing(level, reached))
    if needs_explaining(recovery.expected_kg, recovered_kg) and not ending.difference_reason:
        text = f"{recovered_kg:.2f} kg came out of a charge of {recovery.expected_kg:.2f} kg; say why."
        asked.append(Reason("difference-unexplained", text))
    if asked:
        raise Conflict(asked)
    return {
        "pressure_pa": reached,
        "required_pa": level.pressure_pa if level else None,
        "required": level.why if level else None,
        "rule": level.rule.citation if level else None,
        "vacuum_met": met,
        "held_minutes": ending.held_minutes,
        "vacuum_reason": ending.vacuum_reason,
        "recovered_kg": recovered_kg,
        "difference_reason": ending.difference_reason,
    }


def place_of(services: Services, work: Work, cylinder: Cylinder) -> tuple[str, float | None]:
    """The law and the elevation [m] where a cylinder is."""
    place = stored_places.by_name(work, cylinder.place) if cylinder.place else None
    return places.law_of(work, cylinder.place_rule_book), services.policy.elevation_m(
        place.elevation_m if place else None
    )


def _pressures(reading: PressureReading | None, elevation_m: float | None) -> tuple[float | None, float]:
    """Absolute pressure of the equipment, and outside [Pa]; where the elevation is unknown, as at the sea: stricter."""
    stated = elevation_m if reading is None or reading.elevation_m is None else reading.elevation_m
    ambient = reading.ambient_pa if reading else None
    found = atmosphere_at(stated, ambient)
    outside = STANDARD_ATMOSPHERE_PA if found.source == "unknown" else found.pressure_pa
    if reading is None:
        return None, outside
    if reading.gauge_pa is not None:
        return reading.gauge_pa + outside, outside
    return absolute(reading, elevation_m).pressure_pa, outside


def _vacuum_missing(level: Level, reached_pa: float | None) -> Reason:
    rule = level.rule
    what = "no pressure was read" if reached_pa is None else f"{reached_pa / 1e3:.1f} kPa absolute was read"
    detail = f"{level.why}; {what}. Where leaks prevent it, say so ({recovery_vacuum.LEAKING.citation})."
    return Reason("vacuum-not-reached", rule.text, rule.citation, detail, rule.edition, rule.mark)
