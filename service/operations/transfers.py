"""Use cases for transfers: refrigerant in and out, each guarded and recorded in one transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from service.cylinders import guard
from service.cylinders.contents import UNKNOWN, Contents
from service.cylinders.guard import Check
from service.cylinders.state import CylinderState, Incoming
from service.cylinders.valves import Position, Valve, phase_drawn
from service.operations import checks, cylinders, equipment, states, verdicts
from service.operations import contents as recorded
from service.operations.alarm_review import review
from service.operations.context import Actor, Services, tell
from service.operations.equipment import Standing
from service.operations.errors import Conflict, FieldError, Invalid, NotAllowed, NotFound
from service.operations.events import TRANSFER_RECORDED
from service.operations.knowledge import knowledge
from service.operations.weights import Direction, Weighed, Weighing, weigh
from service.store import cylinders as stored
from service.store import pairs, transfers
from service.store.cylinders import Cylinder, Epoch
from service.store.paging import Page, PageRequest
from service.store.transfers import Transfer
from service.store.work import Work

AHEAD = timedelta(seconds=60)
MAY_OVERRIDE = ("supervisor", "administrator")


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
class Done:
    """What was recorded: the transfer, the other half of a move, and what has to be said."""

    transfer: Transfer
    check: Check
    counterpart: Transfer | None = None


@dataclass(frozen=True, slots=True)
class _Moment:
    """What every step of one recording needs."""

    services: Services
    work: Work
    actor: Actor
    new: NewTransfer
    at: datetime
    occurred_at: datetime
    columns: dict[str, Any] = field(default_factory=dict)


def record(services: Services, actor: Actor, new: NewTransfer) -> Done:
    """
    Record a transfer, or refuse it with every broken rule.

    Raises
    ------
    Conflict
        When a rule is broken that nobody overrides.
    Invalid
        When masses, times or names make no sense.
    NotAllowed
        When somebody overrides who may not.
    NotFound
        When a cylinder is unknown.
    """
    at = services.now()
    occurred_at = new.occurred_at or at
    if occurred_at > at + AHEAD:
        raise Invalid(FieldError("occurred_at", occurred_at.isoformat(), "a time that has come"))
    if new.override_reason is not None and actor.scope not in MAY_OVERRIDE:
        raise NotAllowed("Only a supervisor decides otherwise than a rule.")
    with services.database.writing(actor.organisation_id) as work:
        moment = _Moment(services, work, actor, new, at, occurred_at)
        locked = _locked(work, new)
        if new.direction == "in":
            return _into(moment, locked[new.serial])
        return _out_of(moment, locked[new.serial], locked.get(new.to_cylinder or ""))


def rehearse(services: Services, actor: Actor, new: NewTransfer) -> Done:
    """Tell what ``record`` would do or refuse, by doing it and taking it back; raises as ``record`` does."""
    try:
        with services.database.writing(actor.organisation_id):
            done = record(services, actor, new)
            raise _TakenBack
    except _TakenBack:
        return done


class _TakenBack(Exception):
    """Rolls a rehearsal back."""


def phase_of(phase: str | None, valve: Valve | None, position: Position | None) -> str:
    """
    Liquid or vapour, by what is stated or by the valve's mark and the cylinder's position.

    Raises
    ------
    Invalid
        When what is stated cannot come out of that valve.
    """
    if valve is None:
        return phase or "liquid"
    drawn = phase_drawn(valve, position or "upright")
    if phase is not None and phase != drawn:
        expected = f"{drawn}, which is what the {valve} valve gives {position or 'upright'}"
        raise Invalid(FieldError("phase", phase, expected))
    return drawn


def listed(services: Services, actor: Actor, request: PageRequest, *, serial: str | None) -> Page[Transfer]:
    """Transfers, newest first, of one cylinder on request."""
    with services.database.reading(actor.organisation_id) as work:
        if serial is not None:
            cylinders.by_serial(work, serial)
        return transfers.page(work, request, serial=serial)


def read(services: Services, actor: Actor, transfer_id: int) -> Transfer:
    """One transfer."""
    with services.database.reading(actor.organisation_id) as work:
        found = transfers.by_id(work, transfer_id)
    if found is None:
        raise NotFound("transfer", transfer_id)
    return found


def _locked(work: Work, new: NewTransfer) -> dict[str, Cylinder]:
    """Lock the cylinders in the order of their serials, so that two moves never wait for each other."""
    if new.to_cylinder == new.serial:
        raise Invalid(FieldError("to_cylinder", new.serial, "another cylinder"))
    serials = {new.serial} | ({new.to_cylinder} if new.to_cylinder is not None else set())
    return {serial: cylinders.by_serial(work, serial, lock=True) for serial in sorted(serials)}


def _into(moment: _Moment, cylinder: Cylinder) -> Done:
    services, work, new = moment.services, moment.work, moment.new
    designation = checks.designation_of(services, new.refrigerant)
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    weighed = weigh(services, work, cylinder, epoch, new.weighing, "in")
    standing = equipment.judge(services, new.standing, designation) if new.standing else None
    candidates = states.assessment_in(standing["verdict"]).candidates if standing else ()
    state = _before(states.of(services, work, cylinder), cylinder, epoch, weighed)
    incoming = Incoming(designation, weighed.mass_kg, candidates)
    check = guard.check_in(state, incoming, knowledge(services), on=services.now().date())
    _decide(moment, check)
    contents = state.contents.put_in(designation, weighed.mass_kg)
    shares = {designation or UNKNOWN: 1.0}
    columns = {"designation": designation, "shares": shares, "standing": standing}
    return Done(_write(moment, cylinder, "in", weighed, contents, check, columns), check)


def _out_of(moment: _Moment, cylinder: Cylinder, target: Cylinder | None) -> Done:
    services, work, new = moment.services, moment.work, moment.new
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    weighed = weigh(services, work, cylinder, epoch, new.weighing, "out")
    state = _before(states.of(services, work, cylinder), cylinder, epoch, weighed)
    check = guard.check_out(
        state, weighed.mass_kg, knowledge(services), as_vapour=new.phase == "vapour",
        new_owner=equipment.new_owner(new.equipment),
    )  # fmt: skip
    arriving = None
    if target is not None:
        arriving = states.of(services, work, target)
        incoming = Incoming(state.contents.designation, weighed.mass_kg, equipment.left_open(state))
        check = _both(
            check, guard.check_in(arriving, incoming, knowledge(services), on=services.now().date())
        )
    _decide(moment, check)
    contents = state.contents.take_out(weighed.mass_kg, as_vapour=new.phase == "vapour")
    shares = dict(state.contents.shares) or {UNKNOWN: 1.0}
    columns: dict[str, Any] = {"designation": state.contents.designation, "shares": shares}
    other = {"other_cylinder_id": target.id} if target else {}
    transfer = _write(moment, cylinder, "out", weighed, contents, check, {**columns, **other})
    if target is None or arriving is None:
        return Done(transfer, check)
    landed = arriving.contents
    for name, share in shares.items():
        landed = landed.put_in(None if name == UNKNOWN else name, share * weighed.mass_kg)
    gross = None if target.gross_mass_kg is None else target.gross_mass_kg + weighed.mass_kg
    arrived = Weighed(weighed.mass_kg, gross, None)
    back = {**columns, "other_cylinder_id": cylinder.id}
    return Done(transfer, check, _write(moment, target, "in", arrived, landed, check, back))


def _before(state: CylinderState, cylinder: Cylinder, epoch: Epoch, weighed: Weighed) -> CylinderState:
    """The state before the transfer, whatever a scale under the cylinder has shown of it already."""
    return replace(state, contents=recorded.before(cylinder, epoch, weighed.gross_before_kg))


def _both(first: Check, second: Check) -> Check:
    breaches = tuple(dict.fromkeys([*first.breaches, *second.breaches]))
    return replace(second, breaches=breaches, cautions=first.cautions + second.cautions)


def _decide(moment: _Moment, check: Check) -> None:
    """Go on when nothing is broken, or when a supervisor may and does decide otherwise."""
    if check.allowed:
        return
    if moment.new.override_reason is None or not check.may_be_overridden:
        raise Conflict(checks.reasons(check.breaches))


def _write(
    moment: _Moment,
    cylinder: Cylinder,
    direction: Direction,
    weighed: Weighed,
    contents: Contents,
    check: Check,
    columns: Mapping[str, Any],
) -> Transfer:
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
    moment: _Moment, cylinder: Cylinder, direction: Direction, weighed: Weighed, contents: Contents
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


def _has_glide(moment: _Moment, contents: Contents) -> bool:
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


__all__: Sequence[str] = ("Done", "NewTransfer", "listed", "read", "record")
