"""Use cases for hookups: attach devices to a cylinder, detach them."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from service.operations import places
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import HOOKUP_CHANGED
from service.operations.support.lookup import by_serial
from service.store import devices, hookups
from service.store.hookups import Hookup
from service.store.paging import Page, PageRequest
from service.store.work import Work

AHEAD = timedelta(seconds=60)


@dataclass(frozen=True, slots=True)
class NewHookup:
    """
    Devices to attach.

    Parameters
    ----------
    cylinder
        Serial.
    pressure_device, temperature_device
        One may serve both; then the other is the same name.
    valve
        Which valve the gauge is on, ``vapour`` or ``liquid``.
    place
        Where it stands; the cylinder's place when none.
    from_at
        Since when, now when none.
    temperature_bias_k, pressure_bias_pa
        Calibration of these instruments, where known, standard uncertainty.
    """

    cylinder: str
    pressure_device: str
    temperature_device: str
    valve: str = "vapour"
    place: str | None = None
    from_at: datetime | None = None
    temperature_bias_k: float | None = None
    pressure_bias_pa: float | None = None


def attach(services: Services, actor: Actor, new: NewHookup) -> Hookup:
    """
    Attach devices to a cylinder.

    Raises
    ------
    NotFound
        When the cylinder or the place is unknown.
    Conflict
        When a device is on another cylinder, or retired.
    Invalid
        When no place is known, or the start lies ahead.
    """
    at = services.now()
    from_at = new.from_at or at
    if from_at > at + AHEAD:
        raise Invalid(FieldError("from", from_at.isoformat(), "a time that has come"))
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, new.cylinder, lock=True)
        place_name = new.place or cylinder.place
        if place_name is None:
            raise Invalid(FieldError("place", None, "a place, because the cylinder has none"))
        place = places.named(work, place_name)
        _free(work, actor, new)
        hookup_id = hookups.insert(
            work,
            cylinder_id=cylinder.id,
            place_id=place.id,
            pressure_device=new.pressure_device,
            temperature_device=new.temperature_device,
            valve=new.valve,
            from_at=from_at,
            temperature_bias_k=new.temperature_bias_k,
            pressure_bias_pa=new.pressure_bias_pa,
            probe_lag_s=devices.lag_of(work, new.temperature_device),
            attached_by=actor.name,
            recorded_at=at,
        )
        _tell(work, actor, at, cylinder.serial, hookup_id, "attached")
        return by_id(work, hookup_id)


def sets(services: Services, actor: Actor) -> list[Hookup]:
    """Gauge and clamp that were last used with each other and are on no cylinder: they belong together."""
    with services.database.reading(actor.organisation_id) as work:
        return hookups.last_together(work)


def detach(services: Services, actor: Actor, hookup_id: int) -> None:
    """Take the devices off, which ends what they alone raised; a hookup that is over stays over."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        hookup = by_id(work, hookup_id)
        if hookups.end(work, hookup_id, at=at, by=actor.name):
            _tell(work, actor, at, hookup.cylinder, hookup_id, "detached")
            review(services, work, actor, at, [hookup.cylinder_id])


def listed(
    services: Services, actor: Actor, request: PageRequest, *, active: bool | None, serial: str | None
) -> Page[Hookup]:
    """Hookups, active or past or of one cylinder on request."""
    with services.database.reading(actor.organisation_id) as work:
        return hookups.page(work, request, active=active, serial=serial, at_places=actor.places)


def read(services: Services, actor: Actor, hookup_id: int) -> Hookup:
    """One hookup."""
    with services.database.reading(actor.organisation_id) as work:
        return by_id(work, hookup_id)


def by_id(work: Work, hookup_id: int) -> Hookup:
    """The hookup of that id, or ``NotFound``."""
    hookup = hookups.by_id(work, hookup_id)
    if hookup is None:
        raise NotFound("hookup", hookup_id)
    return hookup


def _free(work: Work, actor: Actor, new: NewHookup) -> None:
    if retired := devices.retired_among(work, {new.pressure_device, new.temperature_device}):
        text = f"{' and '.join(retired)}: retired; take it back into use first."
        raise Conflict([Reason("device-retired", text)])
    other = hookups.active_with_device(work, new.pressure_device, new.temperature_device)
    if other is None:
        return
    taken = {new.pressure_device, new.temperature_device} & {other.pressure_device, other.temperature_device}
    names = " and ".join(sorted(taken))
    where = f"cylinder {other.cylinder} by hookup {other.id}"
    if actor.places is not None and other.place not in actor.places:
        where = "a cylinder elsewhere"
    text = f"{names}: on {where}; detach there first."
    raise Conflict([Reason("device-in-use", text)])


def _tell(work: Work, actor: Actor, at: datetime, serial: str, hookup_id: int, change: str) -> None:
    tell(work, actor, at, HOOKUP_CHANGED, f"cylinders/{serial}", {"change": change, "hookup": hookup_id})
