"""Use cases for transfers: refrigerant in and out, each guarded and recorded in one transaction."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from service.cylinders.contents import UNKNOWN
from service.cylinders.judgement import belief
from service.cylinders.judgement.guard import Check
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.state import Incoming
from service.cylinders.plausibility import serial_key
from service.cylinders.valves import Position, Valve, phase_drawn
from service.operations import checks, equipment
from service.operations.support import acts, calendar, emptying, judgements
from service.operations.support import contents as recorded
from service.operations.support.context import Actor, Services
from service.operations.support.errors import Conflict, FieldError, Invalid, NotAllowed, NotFound
from service.operations.support.lookup import all_locked, by_serial
from service.operations.support.weights import Weighed, weigh
from service.operations.transfer_entry import After, Moment, NewTransfer, write
from service.store import cylinders as stored
from service.store import transfers
from service.store.cylinders import Cylinder, Epoch
from service.store.paging import Page, PageRequest
from service.store.transfers import Transfer
from service.store.work import Work

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
    if new.override_reason is not None and not new.has_happened and actor.scope not in MAY_OVERRIDE:
        raise NotAllowed("Only a supervisor can override a rule.")
    with services.database.writing(actor.organisation_id) as work:
        locked = _locked(work, new)
        at = services.now()
        moment = Moment(services, work, actor, new, at, calendar.moment("at", new.occurred_at, at))
        if new.direction == "in":
            emptying.explain(work, locked[new.serial], moment.occurred_at)
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
    Liquid or vapor, by what is stated or by the valve's mark and the cylinder's position.

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
            by_serial(work, serial)
        return transfers.page(work, request, serial=serial)


def read(services: Services, actor: Actor, transfer_id: int) -> Transfer:
    """One transfer."""
    with services.database.reading(actor.organisation_id) as work:
        found = transfers.by_id(work, transfer_id)
    if found is None:
        raise NotFound("transfer", transfer_id)
    return found


def _locked(work: Work, new: NewTransfer) -> dict[str, Cylinder]:
    if new.to_cylinder is not None and serial_key(new.to_cylinder) == serial_key(new.serial):
        raise Invalid(FieldError("to_cylinder", new.serial, "another cylinder"))
    serials = {new.serial} | ({new.to_cylinder} if new.to_cylinder is not None else set())
    return all_locked(work, serials)


def _into(moment: Moment, cylinder: Cylinder) -> Done:
    services, work, new = moment.services, moment.work, moment.new
    designation = checks.designation_of(services, new.refrigerant)
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    weighed = weigh(services, work, cylinder, epoch, new.weighing, "in")
    checked = equipment.judge(services, new.at_rest, designation) if new.at_rest else None
    before = _before(moment, cylinder, epoch, weighed)
    incoming = equipment.incoming(designation, weighed.mass_kg, checked)
    check = before.may_take(incoming)
    _decide(moment, check)
    after = _filled(before, incoming, {designation or UNKNOWN: 1.0})
    columns = {"designation": designation, "shares": {designation or UNKNOWN: 1.0}, "standing": checked}
    return Done(write(moment, cylinder, "in", weighed, after, check, columns), check)


def _out_of(moment: Moment, cylinder: Cylinder, target: Cylinder | None) -> Done:
    services, work, new = moment.services, moment.work, moment.new
    epoch = stored.epoch_of(work, cylinder, cylinder.epoch)
    weighed = weigh(services, work, cylinder, epoch, new.weighing, "out")
    before, as_vapour = _before(moment, cylinder, epoch, weighed), new.phase == "vapour"
    check = before.may_give(
        weighed.mass_kg, as_vapour=as_vapour, new_owner=equipment.new_owner(new.equipment)
    )
    designation, shares = acts.recorded_as(before)
    incoming = Incoming(before.name.bare, weighed.mass_kg, belief=belief.carried(before.belief))
    arriving = judgements.of(services, work, target).judgement if target is not None else None
    if arriving is not None:
        check = _both(check, arriving.may_take(incoming))
    _decide(moment, check)
    columns: dict[str, Any] = {"designation": designation, "shares": shares}
    other = {"other_cylinder_id": target.id} if target else {}
    after = _drawn(before, weighed, as_vapour=as_vapour)
    transfer = write(moment, cylinder, "out", weighed, after, check, {**columns, **other})
    if target is None or arriving is None:
        return Done(transfer, check)
    gross = None if target.gross_mass_kg is None else target.gross_mass_kg + weighed.mass_kg
    arrived, landed = Weighed(weighed.mass_kg, gross, None), _filled(arriving, incoming, shares)
    back = {**columns, "other_cylinder_id": cylinder.id}
    return Done(transfer, check, write(moment, target, "in", arrived, landed, check, back))


def _before(moment: Moment, cylinder: Cylinder, epoch: Epoch, weighed: Weighed) -> Judgement:
    """The judgement before the transfer, whatever a scale under the cylinder has shown of it already."""
    contents = recorded.before(cylinder, epoch, weighed.gross_before_kg)
    return judgements.of(moment.services, moment.work, cylinder, contents=contents).judgement


def _filled(before: Judgement, incoming: Incoming, shares: Mapping[str, float]) -> After:
    """After something went in; what goes into an empty cylinder is what its label says from then on."""
    state, contents = before.state, before.state.contents
    for name, share in shares.items():
        contents = contents.put_in(None if name == UNKNOWN else name, share * incoming.mass_kg)
    label = incoming.designation if before.belief.is_empty else state.label
    return After(contents, label, acts.put_in(before, incoming))


def _drawn(before: Judgement, weighed: Weighed, *, as_vapour: bool) -> After:
    """After something came out; the readings go on to speak unless nothing or another composition is left."""
    contents = before.state.contents.take_out(weighed.mass_kg, as_vapour=as_vapour)
    changed = contents.is_empty or (as_vapour and acts.new_composition(before))
    kept = acts.drawn_off(before, contents, as_vapour=as_vapour) if changed else None
    return After(contents, before.state.label, kept)


def _both(first: Check, second: Check) -> Check:
    breaches = tuple(dict.fromkeys([*first.breaches, *second.breaches]))
    return replace(second, breaches=breaches, cautions=first.cautions + second.cautions)


def _decide(moment: Moment, check: Check) -> None:
    """Go on when nothing is broken, when a supervisor may and does decide otherwise, or when it is in already."""
    if check.allowed or moment.new.has_happened:
        return
    if moment.new.override_reason is None or not check.may_be_overridden:
        raise Conflict(checks.reasons(check.breaches))
