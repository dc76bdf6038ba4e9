"""Use cases for transfers: refrigerant in and out, each guarded and recorded in one transaction."""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from service.cylinders import guard
from service.cylinders.contents import UNKNOWN
from service.cylinders.guard import Check
from service.cylinders.state import CylinderState, Incoming
from service.cylinders.valves import Position, Valve, phase_drawn
from service.operations import calendar, checks, cylinders, equipment, states
from service.operations import contents as recorded
from service.operations.context import Actor, Services
from service.operations.errors import Conflict, FieldError, Invalid, NotAllowed, NotFound
from service.operations.knowledge import knowledge
from service.operations.moving import Moment, NewTransfer, write
from service.operations.weights import Weighed, weigh
from service.store import cylinders as stored
from service.store import transfers
from service.store.cylinders import Cylinder, Epoch
from service.store.paging import Page, PageRequest
from service.store.transfers import Transfer
from service.store.work import Work
from service.verdict.document import from_json

AHEAD = timedelta(seconds=60)
MAY_OVERRIDE = ("supervisor", "administrator")


@dataclass(frozen=True, slots=True)
class Done:
    """What was recorded: the transfer, the other half of a move, and what has to be said."""

    transfer: Transfer
    check: Check
    counterpart: Transfer | None = None


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
        moment = Moment(services, work, actor, new, at, occurred_at)
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


def _into(moment: Moment, cylinder: Cylinder) -> Done:
    services, work, new = moment.services, moment.work, moment.new
    designation = checks.designation_of(services, new.refrigerant)
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    weighed = weigh(services, work, cylinder, epoch, new.weighing, "in")
    standing = equipment.judge(services, new.standing, designation) if new.standing else None
    candidates = states.assessment_in(from_json(standing["verdict"])).candidates if standing else ()
    state = _before(states.of(services, work, cylinder), cylinder, epoch, weighed)
    incoming = Incoming(designation, weighed.mass_kg, candidates)
    check = guard.check_in(state, incoming, knowledge(services), on=calendar.today(services, work))
    _decide(moment, check)
    contents = state.contents.put_in(designation, weighed.mass_kg)
    shares = {designation or UNKNOWN: 1.0}
    columns = {"designation": designation, "shares": shares, "standing": standing}
    return Done(write(moment, cylinder, "in", weighed, contents, check, columns), check)


def _out_of(moment: Moment, cylinder: Cylinder, target: Cylinder | None) -> Done:
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
            check, guard.check_in(arriving, incoming, knowledge(services), on=calendar.today(services, work))
        )
    _decide(moment, check)
    contents = state.contents.take_out(weighed.mass_kg, as_vapour=new.phase == "vapour")
    shares = dict(state.contents.shares) or {UNKNOWN: 1.0}
    columns: dict[str, Any] = {"designation": state.contents.designation, "shares": shares}
    other = {"other_cylinder_id": target.id} if target else {}
    transfer = write(moment, cylinder, "out", weighed, contents, check, {**columns, **other})
    if target is None or arriving is None:
        return Done(transfer, check)
    landed = arriving.contents
    for name, share in shares.items():
        landed = landed.put_in(None if name == UNKNOWN else name, share * weighed.mass_kg)
    gross = None if target.gross_mass_kg is None else target.gross_mass_kg + weighed.mass_kg
    arrived = Weighed(weighed.mass_kg, gross, None)
    back = {**columns, "other_cylinder_id": cylinder.id}
    return Done(transfer, check, write(moment, target, "in", arrived, landed, check, back))


def _before(state: CylinderState, cylinder: Cylinder, epoch: Epoch, weighed: Weighed) -> CylinderState:
    """The state before the transfer, whatever a scale under the cylinder has shown of it already."""
    return replace(state, contents=recorded.before(cylinder, epoch, weighed.gross_before_kg))


def _both(first: Check, second: Check) -> Check:
    breaches = tuple(dict.fromkeys([*first.breaches, *second.breaches]))
    return replace(second, breaches=breaches, cautions=first.cautions + second.cautions)


def _decide(moment: Moment, check: Check) -> None:
    """Go on when nothing is broken, or when a supervisor may and does decide otherwise."""
    if check.allowed:
        return
    if moment.new.override_reason is None or not check.may_be_overridden:
        raise Conflict(checks.reasons(check.breaches))
