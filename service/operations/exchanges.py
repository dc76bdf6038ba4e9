"""Use cases for exchanges: a full cylinder handed to the supply house, an evacuated one taken back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.codes import Destination, Standing
from service.cylinders.contents import Contents
from service.cylinders.judgement.guard import SCALE_KG
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.permits import Act
from service.cylinders.plausibility import serial_key
from service.operations import checks, cylinders
from service.operations.cylinders import NewCylinder
from service.operations.support import acts, calendar, contents, judgements
from service.operations.support.attention import review
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import CYLINDER_CHANGED, EXCHANGE_RECORDED
from service.operations.support.lookup import locked
from service.store import cylinders as stored
from service.store import exchanges
from service.store.cylinders import Cylinder
from service.store.exchanges import Exchange
from service.store.paging import Page, PageRequest
from service.store.work import Work

DIFFERS_KG, DIFFERS_SHARE = 0.5, 0.02
"""Two scales that differ by more than both are asked about (a judgement) [kg], [-]."""


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
        ``reclaim`` or ``destruction``; by what is judged of the contents where none is stated.
    received
        Serial and marks of the evacuated cylinder taken back; None when none was.
    occurred_at
        Now unless told.
    technician, certification_number, note
        Who, and anything else.
    confirmed
        What was asked back about is right as stated.
    """

    serial: str
    counterparty: str
    receipt: str
    gross_kg: float
    destination: str | None = None
    received: NewCylinder | None = None
    occurred_at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    note: str | None = None
    confirmed: bool = False


def record(services: Services, actor: Actor, new: NewExchange) -> Exchange:
    """
    Hand a cylinder over and take one back, in one transaction.

    Raises
    ------
    Conflict
        When it may not be handed over, with every reason; when its mass is not that of the record and nobody has
        confirmed it; when the receipt is recorded already.
    Invalid
        When the gross mass lies below the tare, or the time ahead.
    NotFound
        When a cylinder is unknown.
    """
    with services.database.writing(actor.organisation_id) as work:
        known = locked(work, {new.serial, *([new.received["serial"]] if new.received else [])})
        if (cylinder := known.get(new.serial)) is None:
            raise NotFound("cylinder", new.serial)
        at = services.now()
        occurred_at = calendar.moment("at", new.occurred_at, at)
        judgement = judgements.of(services, work, cylinder).judgement
        destination = new.destination or route(judgement)
        net = _may_leave(work, cylinder, judgement, new, destination)
        received = _receive(services, work, actor, new, known, at, occurred_at)
        designation, shares = acts.recorded_as(judgement)
        exchange_id = exchanges.insert(
            work, cylinder_id=cylinder.id, received_cylinder_id=received, counterparty=new.counterparty,
            receipt=new.receipt, destination=destination, designation=designation,
            shares=shares, gross_kg=new.gross_kg, net_kg=net,
            occurred_at=occurred_at, recorded_at=at, recorded_by=actor.name, technician=new.technician,
            certification_number=new.certification_number, note=new.note,
        )  # fmt: skip
        stored.change(
            work,
            cylinder,
            at=at,
            standing=Standing.HANDED_OVER,
            gross_mass_kg=new.gross_kg,
            gross_mass_at=occurred_at,
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


def route(judgement: Judgement) -> str:
    """Where the contents go unless somebody says otherwise: a mixture can only be destroyed."""
    return (
        "reclaim"
        if judgement.permits[Act.RECLAIM].allowed or judgement.name.form != "mixed"
        else "destruction"
    )


def _may_leave(
    work: Work, cylinder: Cylinder, judgement: Judgement, new: NewExchange, destination: str
) -> float:
    """Net mass [kg] of a cylinder that may be handed over."""
    act = Act.RECLAIM if destination == Destination.RECLAIM else Act.DESTRUCTION
    against = [one for one in judgement.permits[act].reasons if one.rule.code != "mass-unknown"]
    reasons = [reason for reason in checks.reasons(against) if not (reason.may_override and new.confirmed)]
    if exchanges.with_receipt(work, cylinder.id, new.counterparty, new.receipt) is not None:
        reasons.append(Reason("receipt-exists", f"Receipt {new.receipt} is recorded for it already."))
    if reasons:
        raise Conflict(reasons)
    tare = cylinder.tare_kg
    if tare is None:
        raise Invalid(FieldError("cylinder", cylinder.serial, "a cylinder with its tare recorded"))
    if new.gross_kg < tare - SCALE_KG:
        raise Invalid(FieldError.mass("gross_mass_kg", new.gross_kg, "at least the tare", tare))
    net, held = max(0.0, new.gross_kg - tare), judgement.state.net_mass_kg
    if held is not None and abs(net - held) > max(DIFFERS_KG, DIFFERS_SHARE * held) and not new.confirmed:
        text = (
            f"By record {held:.2f} kg are in it, by this weight {net:.2f} kg. Weigh it again; where the weight is "
            "right, confirm it."
        )
        raise Conflict([Reason("mass-differs", text, may_override=True)])
    return net


def _receive(
    services: Services,
    work: Work,
    actor: Actor,
    new: NewExchange,
    known: Mapping[str, Cylinder],
    at: datetime,
    since: datetime,
) -> int | None:
    """Take the evacuated cylinder in: a new one, or one that had been handed over before."""
    if new.received is None:
        return None
    serial, values = new.received["serial"], cylinders.besides_serial(new.received)
    if serial_key(serial) == serial_key(new.serial):
        raise Invalid(FieldError("received.serial", serial, "another cylinder than the one handed over"))
    found = known.get(serial)
    if found is not None and found.standing != Standing.HANDED_OVER:
        raise Conflict([Reason("serial-exists", f"Cylinder {serial} is in this shop's service already.")])
    if found is None:
        found = cylinders.register(services, actor, serial, values)
    evacuated = contents.document_of(Contents(mass_kg=0.0).evacuate(), since)
    stored.open_epoch(work, found, at=since, cause="received-evacuated", contents=evacuated)
    tare = values.get("tare_kg", found.tare_kg)
    weighed = {} if tare is None else {"gross_mass_kg": tare, "gross_mass_at": since}
    stored.change(work, found, at=at, standing=Standing.IN_SERVICE, claimed_designation=None, **weighed)
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
