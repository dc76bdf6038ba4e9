"""How a recovery ends: the vacuum against the law's level, the mass against the charge, and what has to be said."""

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from service.cylinders import recovery_vacuum
from service.cylinders.books import BOOKS
from service.cylinders.recovery import needs_explaining
from service.cylinders.recovery_vacuum import HELD, HOLD_MINUTES, Level, pressure_class
from service.operations import places
from service.operations.recovery_turns import Closed
from service.operations.support.atmosphere import PressureReading, absolute, atmosphere_at
from service.operations.support.context import Services
from service.operations.support.errors import Conflict, Reason
from service.store import places as stored_places
from service.store.cylinders import Cylinder
from service.store.recoveries import Recovery
from service.store.work import Work
from service.units import STANDARD_ATMOSPHERE_PA, kpa_from_pa

ROUNDING_MIN = 0.05
"""A hold this much short has been held: clocks and fingers [min]."""


@dataclass(frozen=True, slots=True)
class Ending:
    """
    What somebody says at the end.

    Parameters
    ----------
    closed
        The last cylinder, its line off.
    pressure
        Of the equipment, with the machine off; None takes the last reading that was noted.
    held_minutes
        How long it stayed there; None takes it from the readings.
    vacuum_reason
        Why the level was not reached or not held: leaks, or that the work goes on another day.
    difference_reason
        Why more or less came out than the charge.
    """

    closed: Closed
    pressure: PressureReading | None = None
    held_minutes: float | None = None
    vacuum_reason: str | None = None
    difference_reason: str | None = None


@dataclass(frozen=True, slots=True)
class Asked:
    """What a law asks of the equipment: a level, or why nobody knows it."""

    level: Level | None
    unread: str | None


@dataclass(frozen=True, slots=True)
class Where:
    """The law and the elevation [m] where a recovery is done."""

    law: str
    elevation_m: float | None


def required(services: Services, recovery: Recovery, law: str) -> Asked:
    """The level that the law asks for; by name what could not be read of a law."""
    book = BOOKS[law]
    if "recovery" in book.missing:
        return Asked(None, f"{book.name}: {book.missing['recovery']}")
    if recovery.small_appliance:
        small = recovery_vacuum.small_appliance_level(
            recovery.machine_made_on, compressor_runs=recovery.compressor_runs
        )
        return Asked(small, None)
    held = pressure_class(recovery.designation, services.knowledge.saturation)
    return Asked(recovery_vacuum.level(held, recovery.expected_kg, recovery.machine_made_on), None)


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
        When the vacuum, how long it held, or the mass needs a reason that nobody gave.
    """
    where = place_of(services, work, cylinder)
    asked = required(services, recovery, where.law)
    reached, outside = pressures(ending.pressure, where.elevation_m)
    readings = _readings(services, recovery, reached)
    reached = readings[-1][1] if readings else None
    share = recovered_kg / recovery.expected_kg if recovery.expected_kg else None
    level, held, met = asked.level, ending.held_minutes, None
    if level is not None:
        met = level.is_met(reached, outside, share)
        held = (
            recovery_vacuum.held_minutes(readings, min(level.pressure_pa, outside)) if held is None else held
        )
    by_share = level is not None and level.is_met(None, outside, share)
    wanting = [] if ending.vacuum_reason else _wanting(asked, reached, held, met=met, by_share=by_share)
    if needs_explaining(recovery.expected_kg, recovered_kg) and not ending.difference_reason:
        text = f"{recovered_kg:.2f} kg came out of a charge of {recovery.expected_kg:.2f} kg; say why."
        wanting.append(Reason("difference-unexplained", text))
    if wanting:
        raise Conflict(wanting)
    return {
        "pressure_pa": reached,
        "required_pa": level.pressure_pa if level else None,
        "required": level.why if level else asked.unread,
        "rule": level.rule.citation if level else None,
        "vacuum_met": met,
        "held_minutes": held,
        "vacuum_reason": ending.vacuum_reason,
        "above_atmosphere": reached is not None and reached > outside + recovery_vacuum.ROUNDING_PA,
        "recovered_kg": recovered_kg,
        "difference_reason": ending.difference_reason,
    }


def place_of(services: Services, work: Work, cylinder: Cylinder) -> Where:
    """Where a cylinder is."""
    place = stored_places.by_name(work, cylinder.place) if cylinder.place else None
    elevation_m = services.policy.elevation_m(place.elevation_m if place else None)
    return Where(places.law_of(work, cylinder.place_rule_book), elevation_m)


def pressures(reading: PressureReading | None, elevation_m: float | None) -> tuple[float | None, float]:
    """Absolute pressure of the equipment, and outside [Pa]; where the elevation is unknown, as at the sea: stricter."""
    stated = elevation_m if reading is None or reading.elevation_m is None else reading.elevation_m
    ambient = reading.ambient_pa if reading else None
    found = atmosphere_at(stated, ambient)
    outside = STANDARD_ATMOSPHERE_PA if found.source == "unknown" else found.pressure_pa
    if reading is None:
        return None, outside
    return absolute(replace(reading, ambient_pa=outside), elevation_m).pressure_pa, outside


def _readings(services: Services, recovery: Recovery, last_pa: float | None) -> list[tuple[float, float]]:
    """Every reading of the vacuum, the one of the end last: time [s] and absolute pressure [Pa]."""
    noted = [
        (datetime.fromisoformat(one["at"]).timestamp(), float(one["pressure_pa"]))
        for one in recovery.vacuum_readings or []
    ]
    return noted if last_pa is None else [*noted, (services.now().timestamp(), last_pa)]


def _wanting(
    asked: Asked, reached_pa: float | None, held: float | None, *, met: bool | None, by_share: bool
) -> list[Reason]:
    """What the vacuum still lacks."""
    if asked.level is None:
        if reached_pa is not None:
            return []
        text = f"Nobody has read which vacuum this law asks for. {asked.unread}. Read the pressure, or say why not."
        return [Reason("vacuum-level-unread", text)]
    if not met:
        return [_vacuum_missing(asked.level, reached_pa)]
    if by_share or (held or 0.0) >= HOLD_MINUTES - ROUNDING_MIN:
        return []
    detail = f"it has held for {held or 0.0:.1f} min so far; read it again with the machine off"
    return [Reason("vacuum-not-held", HELD.text, HELD.citation, detail, HELD.edition, HELD.mark)]


def _vacuum_missing(level: Level, reached_pa: float | None) -> Reason:
    rule = level.rule
    what = (
        "no pressure was read"
        if reached_pa is None
        else f"{kpa_from_pa(reached_pa):.1f} kPa absolute was read"
    )
    detail = (
        f"{level.why}; {what}. Where leaks prevent it or it stops here, say so "
        f"({recovery_vacuum.LEAKING.citation}): {recovery_vacuum.LEAKING.text}"
    )
    return Reason("vacuum-not-reached", rule.text, rule.citation, detail, rule.edition, rule.mark)
