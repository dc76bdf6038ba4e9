"""Bring a cylinder to its new contents and write the transfer that did it, in one open transaction."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.cylinders.contents import Contents
from service.cylinders.guard import Check
from service.operations import checks, cylinders, verdicts
from service.operations import contents as recorded
from service.operations.alarm_review import review
from service.operations.context import Actor, Services, tell
from service.operations.equipment import Standing
from service.operations.errors import FieldError, Invalid
from service.operations.events import TRANSFER_RECORDED
from service.operations.knowledge import knowledge
from service.operations.weights import Direction, Weighed, Weighing
from service.store import cylinders as stored
from service.store import pairs, transfers
from service.store.cylinders import Cylinder
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
    standing
        Pressure and temperature of the standing equipment before the recovery.
    to_cylinder
        Serial of the cylinder that takes what comes out.
    override_reason
        Why a supervisor decides otherwise where the law leaves room.
    note
        Anything else.
    """

    serial: str
    direction: Direction
    weighing: Weighing
    refrigerant: str | None = None
    phase: str = "liquid"
    occurred_at: datetime | None = None
    technician: str | None = None
    certification_number: str | None = None
    equipment: Mapping[str, Any] | None = None
    standing: Standing | None = None
    to_cylinder: str | None = None
    override_reason: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Moment:
    """What every step of one recording needs."""

    services: Services
    work: Work
    actor: Actor
    new: NewTransfer
    at: datetime
    occurred_at: datetime


def write(
    moment: Moment,
    cylinder: Cylinder,
    direction: Direction,
    weighed: Weighed,
    contents: Contents,
    check: Check,
    columns: Mapping[str, Any],
) -> Transfer:
    """Record one transfer of one cylinder, with its event and its alarms; ``columns`` say what it was."""
    work, new, at = moment.work, moment.new, moment.at
    epoch = _advance(moment, cylinder, direction, weighed, contents)
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


def _advance(
    moment: Moment, cylinder: Cylinder, direction: Direction, weighed: Weighed, contents: Contents
) -> int:
    """
    Bring the cylinder to its new contents.

    What goes in, or the last coming out, begins a new epoch. So does vapour drawn from a blend with glide: the liquid
    that is left has another composition, and pairs from before would contradict those after.
    """
    work, at, since = moment.work, moment.at, moment.occurred_at
    begun = stored.epoch_of(work, cylinder, cylinder.epoch).started_at
    if since < begun:
        expected = f"not before its contents last changed, {begun.isoformat()}"
        raise Invalid(FieldError("occurred_at", since.isoformat(), expected))
    document = recorded.document_of(contents, since)
    changes: dict[str, Any] = {"claimed_designation": contents.designation or contents.last_designation}
    if weighed.gross_after_kg is not None:
        changes |= {"gross_mass_kg": weighed.gross_after_kg, "gross_mass_at": since}
    shifts = direction == "out" and moment.new.phase == "vapour" and _has_glide(moment, contents)
    if direction == "out" and not contents.is_empty and not shifts:
        stored.set_contents(work, cylinder, document)
        stored.change(work, cylinder, at=at, **changes)
        return cylinder.epoch
    cause = "transfer-in" if direction == "in" else "emptied" if contents.is_empty else "vapour-drawn"
    epoch = stored.open_epoch(work, cylinder, at=since, cause=cause, contents=document)
    stored.change(work, cylinder, at=at, **changes)
    if pairs.move_to_epoch(work, cylinder.id, epoch, since=since):
        anew = cylinders.by_serial(work, cylinder.serial)
        verdicts.reach(moment.services, work, moment.actor, at, anew, epoch, None)
    return epoch


def _has_glide(moment: Moment, contents: Contents) -> bool:
    name = contents.designation
    hazard = knowledge(moment.services).hazards(name) if name is not None else None
    return hazard is not None and hazard.has_glide


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
