"""Use cases while a recovery goes on: another method for the rest, and the vacuum as it is read and held."""

from datetime import datetime

from service.operations import recoveries, recovery_end
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.events import RECOVERY_CHANGED
from service.operations.support.lookup import by_serial
from service.store import recoveries as stored

MOST_READINGS = 50


def change_method(services: Services, actor: Actor, recovery_id: int, method: str) -> None:
    """Go on by another method: after the liquid, the rest comes as vapor; no push-pull reaches a vacuum."""
    with services.database.writing(actor.organisation_id) as work:
        recoveries.opened(work, recovery_id)
        stored.change(work, recovery_id, method=method, phase=recoveries.phase_of(method))
        told = {"change": "method", "method": method}
        tell(work, actor, services.now(), RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)


def note_vacuum(services: Services, actor: Actor, recovery_id: int, pressure: PressureReading) -> None:
    """
    Note what the equipment's gauge reads with the machine off; from two readings follows how long it held.

    Raises
    ------
    Invalid
        When the pressure cannot be.
    """
    with services.database.writing(actor.organisation_id) as work:
        recovery, fills = recoveries.opened(work, recovery_id)
        used = [fill for fill in fills if fill.begun_at is not None]
        place = recovery_end.place_of(services, work, by_serial(work, used[-1].cylinder))
        reached, _ = recovery_end.pressures(pressure, place.elevation_m)
        if reached is None or reached < 0.0:
            raise Invalid(FieldError("pressure", reached, "a pressure above a perfect vacuum"))
        at: datetime = services.now()
        reading = {"at": at.isoformat(), "pressure_pa": reached, "by": actor.name}
        readings = [*(recovery.vacuum_readings or []), reading][-MOST_READINGS:]
        stored.change(work, recovery_id, vacuum_readings=readings)
        told = {"change": "vacuum-read", "pressure_pa": reached}
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)
