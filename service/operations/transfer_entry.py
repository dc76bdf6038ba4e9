"""Bring a cylinder to its new contents and write the transfer that did it, in one open transaction."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.cylinders.contents import Contents
from service.cylinders.judgement.guard import Check
from service.operations import checks, verdicts
from service.operations.support import beliefs, judgements
from service.operations.support import contents as recorded
from service.operations.support.attention import review
from service.operations.support.beliefs import Kept
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import FieldError, Invalid
from service.operations.support.events import TRANSFER_RECORDED
from service.operations.support.lookup import by_serial
from service.operations.support.readings import Reading
from service.operations.support.weights import Direction, Weighed, Weighing
from service.store import cylinders as stored
from service.store import pairs, transfers
from service.store.cylinders import Cylinder
from service.store.equipment import Equipment
from service.store.transfers import Transfer
from service.store.work import Work


@dataclass(frozen=True, slots=True)
class NewTransfer:
    """
    A transfer to record.

    Parameters
    ----------
    serial
        Cylinder that it goes into, or comes out of.
    direction
        ``in`` or ``out``.
    refrigerant
        As typed, going in; None or ``unknown`` when nobody knows. Coming out, the record says what it is.
    weighing
        How the mass is known.
    phase
        ``liquid`` or ``vapour``: the mark of the valve that it went through.
    occurred_at
        Now unless told.
    technician, certification_number
        Who did it.
    equipment
        Owner, location, appliance, circuit, charge of what it came from or went to.
    at_rest
        Pressure and temperature of the standing equipment before the recovery.
    to_cylinder
        Serial of the cylinder that takes what comes out.
    override_reason
        Why a supervisor decides otherwise where the law leaves room.
    note
        Anything else.
    has_happened
        What goes in is in the cylinder already: the rules that it breaks are kept with the record and refuse nothing.
    """

    serial: str
    direction: Direction
    weighing: Weighing
    refrigerant: str | None = None
    phase: str = "liquid"
    occurred_at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    equipment: Equipment | None = None
    at_rest: Reading | None = None
    to_cylinder: str | None = None
    override_reason: str | None = None
    note: str | None = None
    has_happened: bool = False


@dataclass(frozen=True, slots=True)
class Moment:
    """What every step of one recording needs."""

    services: Services
    work: Work
    actor: Actor
    new: NewTransfer
    at: datetime
    occurred_at: datetime


@dataclass(frozen=True, slots=True)
class After:
    """
    A cylinder after a transfer.

    Parameters
    ----------
    contents
        By the record.
    label
        What its label says from now on.
    kept
        What is believed when new contents begin; None where the present ones go on.
    """

    contents: Contents
    label: str | None
    kept: Kept | None


def write(
    moment: Moment,
    cylinder: Cylinder,
    direction: Direction,
    weighed: Weighed,
    after: After,
    check: Check,
    columns: Mapping[str, Any],
) -> Transfer:
    """Record one transfer of one cylinder, with its event and its alarms; ``columns`` say what it was."""
    work, new, at = moment.work, moment.new, moment.at
    epoch = _advance(moment, cylinder, direction, weighed, after)
    transfer = transfers.insert(
        work,
        cylinder_id=cylinder.id,
        direction=direction,
        mass_kg=weighed.mass_kg,
        gross_after_kg=weighed.gross_after_kg,
        phase=new.phase,
        epoch=epoch,
        occurred_at=moment.occurred_at,
        recorded_at=at,
        recorded_by=moment.actor.name,
        technician=new.technician,
        certification_number=new.certification_number,
        equipment=dict(new.equipment) if new.equipment else None,
        overridden=checks.rule_codes(check.breaches) or None,
        override_reason=new.override_reason if check.breaches else None,
        note=new.note,
        **columns,
    )
    tell(work, moment.actor, at, TRANSFER_RECORDED, f"cylinders/{cylinder.serial}", _told(transfer))
    review(moment.services, work, moment.actor, at, [cylinder.id])
    return transfer


def _advance(moment: Moment, cylinder: Cylinder, direction: Direction, weighed: Weighed, after: After) -> int:
    """
    Bring the cylinder to its new contents.

    What goes in, or the last coming out, begins a new epoch. So does vapor drawn from a blend with glide: the liquid
    that is left has another composition, and pairs from before would contradict those after.
    """
    work, at, since, contents = moment.work, moment.at, moment.occurred_at, after.contents
    present = stored.epoch_of(work, cylinder, cylinder.epoch)
    if since < present.started_at:
        expected = f"not before its contents last changed, {present.started_at.isoformat()}"
        raise Invalid(FieldError("at", since.isoformat(), expected))
    changes: dict[str, Any] = {"claimed_designation": after.label}
    if weighed.gross_after_kg is not None:
        changes |= {"gross_mass_kg": weighed.gross_after_kg, "gross_mass_at": since}
    drawn = {recorded.DRAWN_AT: since.isoformat()} if direction == "out" else {}
    if after.kept is None:
        kept = beliefs.kept(cylinder, present)
        document = recorded.document_of(contents, since, kept, weighed=weighed.measured) | drawn
        stored.set_contents(work, cylinder, document)
        stored.change(work, cylinder, at=at, **changes)
        return cylinder.epoch
    cause = "transfer-in" if direction == "in" else "emptied" if contents.is_empty else "vapour-drawn"
    document = recorded.document_of(contents, since, after.kept, weighed=weighed.measured) | drawn
    epoch = stored.open_epoch(work, cylinder, at=since, cause=cause, contents=document)
    stored.change(work, cylinder, at=at, **changes)
    if pairs.move_to_epoch(work, cylinder.id, epoch, since=since):
        changed = by_serial(work, cylinder.serial)
        verdict = verdicts.reach(moment.services, work, at, changed, epoch, None)
        judged = judgements.of(moment.services, work, by_serial(work, cylinder.serial))
        verdicts.announce(work, moment.actor, at, judged, verdict)
    return epoch


def _told(transfer: Transfer) -> dict[str, Any]:
    return {
        "transfer": transfer.id,
        "cylinder": transfer.cylinder,
        "direction": transfer.direction,
        "designation": transfer.designation,
        "shares": transfer.shares,
        "mass_kg": transfer.mass_kg,
        "occurred_at": transfer.occurred_at.isoformat(),
        "overridden": transfer.overridden,
        "override_reason": transfer.override_reason,
    }
