"""Use cases for holds: set a cylinder aside, release it."""

from datetime import datetime

from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, NotFound, Reason
from service.operations.support.events import CYLINDER_CHANGED
from service.operations.support.lookup import by_serial
from service.store import holds
from service.store.cylinders import Cylinder
from service.store.holds import Hold
from service.store.paging import Page, PageRequest
from service.store.work import Work


def place(services: Services, actor: Actor, serial: str, reason: str) -> Hold:
    """Set a cylinder aside; any technician may, and there may be several reasons at a time."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        cylinder = by_serial(work, serial, lock=True)
        return by_id(work, put(work, actor, at, cylinder, reason))


def put(work: Work, actor: Actor, at: datetime, cylinder: Cylinder, reason: str) -> int:
    """Set a cylinder aside in somebody else's transaction; answers the hold's id."""
    hold_id = holds.insert(work, cylinder_id=cylinder.id, reason=reason, at=at, by=actor.name)
    told = {"change": "held", "cylinder": cylinder.serial, "hold": hold_id, "reason": reason}
    tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{cylinder.serial}", told)
    return hold_id


def release(services: Services, actor: Actor, hold_id: int, reason: str | None = None) -> Hold:
    """
    Lift a hold.

    Raises
    ------
    Conflict
        When it was lifted already.
    NotFound
        When there is no such hold.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        hold = by_id(work, hold_id)
        by_serial(work, hold.cylinder, lock=True)
        if by_id(work, hold_id).released_at is not None:
            raise Conflict([Reason("hold-released", f"Hold {hold_id} was released already.")])
        holds.release(work, hold_id, at=at, by=actor.name, reason=reason)
        told = {"change": "released", "cylinder": hold.cylinder, "hold": hold_id, "reason": reason}
        tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{hold.cylinder}", told)
        return by_id(work, hold_id)


def listed(
    services: Services, actor: Actor, request: PageRequest, *, serial: str | None, in_force_only: bool
) -> Page[Hold]:
    """Holds, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return holds.page(work, request, serial=serial, in_force_only=in_force_only)


def by_id(work: Work, hold_id: int) -> Hold:
    """The hold of that id, or ``NotFound``."""
    found = holds.by_id(work, hold_id)
    if found is None:
        raise NotFound("hold", hold_id)
    return found
