"""What an actor who is bound to places may reach: cylinders that stand there now, and what is about them."""

from collections.abc import Callable

from service.operations.support.context import Actor, Services
from service.operations.support.errors import FieldError, Invalid, NotFound
from service.store import alarms, cylinders, holds, hookups, transfers
from service.store.work import Work

Of = Callable[[Work, int], str | None]
"""The serial of the cylinder that something of this id is about; None where there is none."""


def _alarm(work: Work, alarm_id: int) -> str | None:
    found = alarms.by_id(work, alarm_id)
    return None if found is None else found.cylinder


def _hold(work: Work, hold_id: int) -> str | None:
    found = holds.by_id(work, hold_id)
    return None if found is None else found.cylinder


def _hookup(work: Work, hookup_id: int) -> str | None:
    found = hookups.by_id(work, hookup_id)
    return None if found is None else found.cylinder


def _transfer(work: Work, transfer_id: int) -> str | None:
    found = transfers.by_id(work, transfer_id)
    return None if found is None else found.cylinder


ABOUT: dict[str, Of] = {"alarm": _alarm, "hold": _hold, "hookup": _hookup, "transfer": _transfer}


def require_place(actor: Actor, name: object) -> None:
    """
    Refuse a place that the actor is not bound to.

    Raises
    ------
    NotFound
        Whether there is such a place elsewhere is not told.
    """
    if actor.places is not None and name not in actor.places:
        raise NotFound("place", name)


def require_cylinder(services: Services, actor: Actor, serial: str) -> None:
    """
    Refuse a cylinder that stands at none of the actor's places; unbound actors reach all.

    Raises
    ------
    NotFound
        Whether there is such a cylinder elsewhere is not told.
    """
    if actor.places is None:
        return
    with services.database.reading(actor.organisation_id) as work:
        _require(work, actor, serial, NotFound("cylinder", serial))


def require_about(services: Services, actor: Actor, noun: str, number: int) -> None:
    """
    Refuse a thing that is about a cylinder elsewhere, or about none.

    Parameters
    ----------
    services, actor
        What may be used, and who asks.
    noun
        One of ``ABOUT``.
    number
        The thing's id.

    Raises
    ------
    NotFound
        Whether there is such a thing elsewhere is not told.
    """
    if actor.places is None:
        return
    with services.database.reading(actor.organisation_id) as work:
        serial = ABOUT[noun](work, number)
        if serial is None:
            raise NotFound(noun, number)
        _require(work, actor, serial, NotFound(noun, number))


def told_missing(actor: Actor, field: str) -> Invalid:
    """Why a bound actor has to name a place or a cylinder here."""
    places = ", ".join(sorted(actor.places or ()))
    return Invalid(
        FieldError(field, None, f"one of the places of this token ({places}), or a cylinder there")
    )


def _require(work: Work, actor: Actor, serial: str, refusal: NotFound) -> None:
    cylinder = cylinders.by_serial(work, serial)
    if cylinder is None or cylinder.place is None or cylinder.place not in (actor.places or ()):
        raise refusal
