"""Use cases for who holds a cylinder outside the shop, and until when."""

from datetime import date

from service.operations.support import calendar, lookup
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import CUSTODY_CHANGED
from service.store import custody
from service.store.custody import Custody
from service.store.paging import Page, PageRequest
from service.store.work import Work


def listed(services: Services, actor: Actor, request: PageRequest, *, out_only: bool) -> Page[Custody]:
    """Who holds what, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return custody.page(work, request, out_only=out_only)


def hand_out(
    services: Services,
    actor: Actor,
    serial: str,
    *,
    holder: str,
    due_on: date | None,
    note: str | None = None,
) -> Custody:
    """
    Give a cylinder into somebody's hands.

    Raises
    ------
    Conflict
        When somebody has it already.
    Invalid
        When it would be due back before today.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        cylinder = lookup.by_serial(work, serial, lock=True)
        today = calendar.local_date(work, at)
        if due_on is not None and due_on < today:
            raise Invalid(FieldError("due_on", due_on.isoformat(), f"a day not before {today.isoformat()}"))
        present = custody.present(work, cylinder.id)
        if present is not None:
            raise Conflict([Reason("in-custody", f"Cylinder {serial} is with {present.holder}.")])
        custody_id = custody.insert(
            work, cylinder_id=cylinder.id, holder=holder, since=at, due_on=due_on, note=note,
            recorded_by=actor.name,
        )  # fmt: skip
        told = {"holder": holder, "due_on": due_on.isoformat() if due_on else None}
        tell(work, actor, at, CUSTODY_CHANGED, f"cylinders/{serial}", told)
        return _by_id(work, custody_id)


def bring_back(services: Services, actor: Actor, custody_id: int) -> Custody:
    """
    Take a cylinder back.

    Raises
    ------
    Conflict
        When it is back already.
    """
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        found = _by_id(work, custody_id)
        if found.returned_at is not None:
            raise Conflict([Reason("returned", f"Cylinder {found.cylinder} is back already.")])
        custody.bring_back(work, custody_id, at)
        tell(work, actor, at, CUSTODY_CHANGED, f"cylinders/{found.cylinder}", {"returned": True})
        return _by_id(work, custody_id)


def overdue(entry: Custody, today: date) -> bool:
    """Whether a cylinder should be back by a day."""
    return entry.due_on is not None and entry.returned_at is None and today > entry.due_on


def _by_id(work: Work, custody_id: int) -> Custody:
    found = custody.by_id(work, custody_id)
    if found is None:
        raise NotFound("custody", custody_id)
    return found
