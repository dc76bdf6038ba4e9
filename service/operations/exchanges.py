"""Use cases for exchanges: a full cylinder handed to the supply house, an evacuated one taken back."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from service.cylinders.contents import UNKNOWN, Contents
from service.cylinders.state import IN_SERVICE
from service.operations import contents, cylinders, states
from service.operations.alarm_review import review
from service.operations.context import Actor, Services, tell
from service.operations.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.events import CYLINDER_CHANGED, EXCHANGE_RECORDED
from service.store import cylinders as stored
from service.store import exchanges
from service.store.cylinders import Cylinder
from service.store.exchanges import Exchange
from service.store.paging import Page, PageRequest
from service.store.work import Work

AHEAD = timedelta(seconds=60)
HANDED_OVER = "handed-over"


@dataclass(frozen=True, slots=True)
class NewExchange:
    """
    An exchange to record.

    Parameters
    ----------
    serial
        Of the full cylinder.
    counterparty, receipt
        Supply house or reclaimer, and the number of its receipt.
    gross_kg
        On the supply house's scale [kg].
    destination
        ``reclaim`` or ``destruction``.
    received
        Serial and marks of the evacuated cylinder taken back; None when none was.
    occurred_at
        Now unless told.
    technician, certification_number, note
        Who, and anything else.
    """

    serial: str
    counterparty: str
    receipt: str
    gross_kg: float
    destination: str = "reclaim"
    received: Mapping[str, Any] | None = None
    occurred_at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    note: str | None = None


def record(services: Services, actor: Actor, new: NewExchange) -> Exchange:
    """
    Hand a cylinder over and take one back, in one transaction.

    Raises
    ------
    Conflict
        When it is on hold or not in service, or the receipt is recorded already.
    Invalid
        When the gross mass lies below the tare, or the time ahead.
    NotFound
        When a cylinder is unknown.
    """
    at = services.now()
    occurred_at = new.occurred_at or at
    if occurred_at > at + AHEAD:
        raise Invalid(FieldError("occurred_at", occurred_at.isoformat(), "a time that has come"))
    with services.database.writing(actor.organisation_id) as work:
        cylinder = cylinders.by_serial(work, new.serial, lock=True)
        held, net = _may_leave(services, work, cylinder, new)
        received = _receive(services, work, actor, new, at, occurred_at)
        exchange_id = exchanges.insert(
            work, cylinder_id=cylinder.id, received_cylinder_id=received, counterparty=new.counterparty,
            receipt=new.receipt, destination=new.destination, designation=held.designation,
            shares=dict(held.shares) or {UNKNOWN: 1.0}, gross_kg=new.gross_kg, net_kg=net,
            occurred_at=occurred_at, recorded_at=at, recorded_by=actor.name, technician=new.technician,
            certification_number=new.certification_number, note=new.note,
        )  # fmt: skip
        stored.change(
            work, cylinder, at=at, standing=HANDED_OVER, gross_mass_kg=new.gross_kg, gross_mass_at=occurred_at
        )
        found = by_id(work, exchange_id)
        tell(work, actor, at, EXCHANGE_RECORDED, f"cylinders/{new.serial}", _told(found))
        review(services, work, actor, at, [cylinder.id])
        return found


def listed(services: Services, actor: Actor, request: PageRequest, *, serial: str | None) -> Page[Exchange]:
    """Exchanges, newest first."""
    with services.database.reading(actor.organisation_id) as work:
        return exchanges.page(work, request, serial=serial)


def by_id(work: Work, exchange_id: int) -> Exchange:
    """The exchange of that id, or ``NotFound``."""
    found = exchanges.by_id(work, exchange_id)
    if found is None:
        raise NotFound("exchange", exchange_id)
    return found


def _may_leave(
    services: Services, work: Work, cylinder: Cylinder, new: NewExchange
) -> tuple[Contents, float]:
    """Contents and net mass [kg] of a cylinder that may be handed over."""
    state = states.of(services, work, cylinder)
    reasons = [Reason("on-hold", f"It is on hold: {reason}.") for reason in state.holds]
    if state.standing != IN_SERVICE:
        reasons.append(Reason("out-of-service", f"Cylinder {cylinder.serial} is {state.standing}."))
    if exchanges.with_receipt(work, cylinder.id, new.counterparty, new.receipt) is not None:
        reasons.append(Reason("receipt-exists", f"Receipt {new.receipt} is recorded for it already."))
    if reasons:
        raise Conflict(reasons)
    tare = cylinder.tare_kg
    if tare is None:
        raise Invalid(FieldError("cylinder", cylinder.serial, "a cylinder with its tare recorded"))
    if new.gross_kg < tare - 0.05:
        expected = f"a gross mass of at least the tare, {tare:.3f} kg: no negative net"
        raise Invalid(FieldError("gross_kg", new.gross_kg, expected))
    held = state.contents
    if not held.shares and state.assessment is not None and state.assessment.identity == "identified":
        held = replace(held, shares={state.assessment.candidates[0]: 1.0})
    return held, max(0.0, new.gross_kg - tare)


def _receive(
    services: Services, work: Work, actor: Actor, new: NewExchange, at: datetime, since: datetime
) -> int | None:
    """Take the evacuated cylinder in: a new one, or one that had been handed over before."""
    if new.received is None:
        return None
    values = dict(new.received)
    serial = values.pop("serial")
    if serial == new.serial:
        raise Invalid(FieldError("received.serial", serial, "another cylinder than the one handed over"))
    found = stored.by_serial(work, serial, lock=True)
    if found is not None and found.standing != HANDED_OVER:
        raise Conflict([Reason("serial-exists", f"Cylinder {serial} is in this shop's service already.")])
    if found is None:
        found = cylinders.register(services, actor, serial, values)
    evacuated = contents.document_of(Contents(mass_kg=0.0).evacuate(), since)
    stored.open_epoch(work, found, at=since, cause="received-evacuated", contents=evacuated)
    tare = values.get("tare_kg", found.tare_kg)
    weighed = {} if tare is None else {"gross_mass_kg": tare, "gross_mass_at": since}
    stored.change(work, found, at=at, standing=IN_SERVICE, claimed_designation=None, **weighed)
    told = {"change": "received", "cylinder": serial, "from": new.counterparty, "against": new.serial}
    tell(work, actor, at, CYLINDER_CHANGED, f"cylinders/{serial}", told)
    return found.id


def _told(exchange: Exchange) -> dict[str, Any]:
    return {
        "exchange": exchange.id,
        "cylinder": exchange.cylinder,
        "received_cylinder": exchange.received_cylinder,
        "counterparty": exchange.counterparty,
        "receipt": exchange.receipt,
        "destination": exchange.destination,
        "designation": exchange.designation,
        "net_kg": exchange.net_kg,
        "occurred_at": exchange.occurred_at.isoformat(),
    }
