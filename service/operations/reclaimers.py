"""Use cases for reclaimers, and for what the receiver says of what was sent."""

from dataclasses import dataclass
from datetime import datetime

from service.operations.exchanges import by_id
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import RECLAIMER_CHANGED
from service.store import exchanges, reclaimers
from service.store.exchanges import Exchange
from service.store.paging import LARGEST_PAGE
from service.store.reclaimers import Acceptance, Reclaimer


@dataclass(frozen=True, slots=True)
class NewAcceptance:
    """What the receiver weighed [kg], under which lot, when; now unless told."""

    net_kg: float
    lot: str | None = None
    accepted_at: datetime | None = None
    note: str | None = None


def listed(services: Services, actor: Actor) -> list[Reclaimer]:
    """Every reclaimer, by name."""
    with services.database.reading(actor.organisation_id) as work:
        return reclaimers.listed(work)


def awaiting(services: Services, actor: Actor) -> list[Exchange]:
    """What was sent and of which the receiver has not said what it accepted, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return exchanges.awaiting(work, LARGEST_PAGE)


def sent(services: Services, actor: Actor, exchange_id: int) -> Exchange:
    """One exchange, for whoever records what came of it."""
    with services.database.reading(actor.organisation_id) as work:
        return by_id(work, exchange_id)


def put(
    services: Services, actor: Actor, name: str, *, address: str, certification_number: str | None
) -> Reclaimer:
    """Write what is known of a reclaimer; exchanges with that name refer to it."""
    at = services.now()
    with services.database.writing(actor.organisation_id) as work:
        reclaimers.put(
            work, name, address=address, certification_number=certification_number, updated_at=at,
            updated_by=actor.name,
        )  # fmt: skip
        told = {"name": name, "address": address, "certification_number": certification_number}
        tell(work, actor, at, RECLAIMER_CHANGED, f"reclaimers/{name}", told)
        found = reclaimers.by_name(work, name)
    if found is None:
        raise NotFound("reclaimer", name)
    return found


def accept(services: Services, actor: Actor, exchange_id: int, new: NewAcceptance) -> Acceptance:
    """
    Record what the receiver accepted of an exchange, once.

    Raises
    ------
    Conflict
        When it is recorded already.
    Invalid
        When it was accepted before it was sent, or lies ahead.
    NotFound
        When there is no such exchange.
    """
    at = services.now()
    accepted_at = new.accepted_at or at
    with services.database.writing(actor.organisation_id) as work:
        exchange = by_id(work, exchange_id)
        if accepted_at > at:
            raise Invalid(FieldError("at", accepted_at.isoformat(), "must not be in the future"))
        if accepted_at < exchange.occurred_at:
            sent = exchange.occurred_at.isoformat()
            raise Invalid(FieldError("at", accepted_at.isoformat(), f"not before it was sent, {sent}"))
        if reclaimers.acceptance_of(work, exchange_id) is not None:
            raise Conflict([Reason("acceptance-exists", "What they accepted is recorded already.")])
        reclaimers.accept(
            work, exchange_id=exchange_id, net_kg=new.net_kg, lot=new.lot, accepted_at=accepted_at,
            recorded_at=at, recorded_by=actor.name, note=new.note,
        )  # fmt: skip
        told = {"exchange": exchange_id, "net_kg": new.net_kg, "lot": new.lot}
        tell(work, actor, at, RECLAIMER_CHANGED, f"cylinders/{exchange.cylinder}", told)
        found = reclaimers.acceptance_of(work, exchange_id)
    if found is None:
        raise NotFound("exchange", exchange_id)
    return found
