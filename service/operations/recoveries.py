"""Use cases for a recovery out of equipment: begin it, change cylinders, end it with the vacuum the law asks for."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from service.cylinders.judgement.state import Incoming
from service.operations import checks, equipment, judgements, recovery_end, transfers
from service.operations.atmosphere import PressureReading
from service.operations.context import Actor, Services, tell
from service.operations.equipment import Standing
from service.operations.errors import Conflict, FieldError, Invalid, NotAllowed, NotFound, Reason
from service.operations.events import RECOVERY_CHANGED
from service.operations.lookup import by_serial
from service.operations.moving import NewTransfer
from service.operations.recovery_end import Ending
from service.operations.weights import AGREE_KG, Weighing, live_mass
from service.store import recoveries
from service.store.cylinders import Cylinder
from service.store.recoveries import Fill, Recovery
from service.store.work import Work

PROBE_KG = 0.01
"""What the guard is asked about to learn whether anything may go in, and how much [kg]."""
NOTHING_KG = 0.005
"""A scale that moved by less than this saw nothing come in [kg]."""


@dataclass(frozen=True, slots=True)
class NewRecovery:
    """
    A recovery to begin.

    Parameters
    ----------
    refrigerant
        As the nameplate says it; None or ``unknown`` when nobody knows.
    cylinders
        Serials in the order of use.
    equipment
        Owner, location, appliance, circuit and charge of what it comes from.
    standing
        Pressure and temperature of the equipment at rest.
    phase
        ``liquid`` or ``vapour``.
    technician, certification_number
        Who does it.
    machine_made_on
        Day on which the recovery machine was made; the stricter levels hold where nobody knows.
    small_appliance, compressor_runs
        Made with at most 5 lb and sealed in a factory; whether its compressor runs.
    gross_before_kg
        Of the first cylinder [kg], else its scale's, else its last weighing.
    override_reason
        Why a supervisor decides otherwise where the law leaves room.
    """

    refrigerant: str | None
    cylinders: Sequence[str]
    equipment: Mapping[str, Any]
    standing: Standing | None = None
    phase: str = "liquid"
    technician: str | None = None
    certification_number: str | None = None
    machine_made_on: date | None = None
    small_appliance: bool = False
    compressor_runs: bool = True
    gross_before_kg: float | None = None
    override_reason: str | None = None


@dataclass(frozen=True, slots=True)
class Swap:
    """
    One cylinder for the next.

    Parameters
    ----------
    gross_after_kg
        Of the one that is full [kg]; None takes it from the scale under it.
    to_cylinder
        Serial of the next; None takes the next of the plan.
    gross_before_kg
        Of the next [kg], else its scale's, else its last weighing.
    override_reason
        Why a supervisor decides otherwise where the law leaves room.
    """

    gross_after_kg: float | None = None
    to_cylinder: str | None = None
    gross_before_kg: float | None = None
    override_reason: str | None = None


@dataclass(frozen=True, slots=True)
class _Room:
    """How much a cylinder takes of what comes, and its gross mass when it is full [kg]."""

    cylinder: Cylinder
    room_kg: float
    target_gross_kg: float


def start(services: Services, actor: Actor, new: NewRecovery) -> int:
    """
    Begin a recovery; answers its id.

    Raises
    ------
    Conflict
        When a cylinder may not take it, has no room, or is in another recovery.
    Invalid
        When names or masses make no sense.
    NotAllowed
        When somebody overrides who may not.
    """
    if len(set(new.cylinders)) != len(new.cylinders) or not new.cylinders:
        raise Invalid(FieldError("cylinders", list(new.cylinders), "at least one serial, each once"))
    designation, at = checks.designation_of(services, new.refrigerant), services.now()
    judged = equipment.judge(services, new.standing, designation) if new.standing else None
    came_from = equipment.candidates(judged) if judged else ()
    asked = Incoming(designation, PROBE_KG, came_from)
    with services.database.writing(actor.organisation_id) as work:
        locked = {serial: by_serial(work, serial, lock=True) for serial in sorted(new.cylinders)}
        ordered = [locked[serial] for serial in new.cylinders]
        rooms = [_room(services, work, actor, one, asked, new.override_reason) for one in ordered]
        gross = _gross_before(services, work, rooms[0], new.gross_before_kg)
        recovery_id = recoveries.insert(
            work, designation=designation, expected_kg=new.equipment.get("charge_kg"), phase=new.phase,
            equipment=dict(new.equipment), standing=asdict(new.standing) if new.standing else None,
            machine_made_on=new.machine_made_on, small_appliance=new.small_appliance,
            compressor_runs=new.compressor_runs, technician=new.technician,
            certification_number=new.certification_number, occurred_at=at, recorded_by=actor.name,
        )  # fmt: skip
        for place, room in enumerate(rooms):
            _plan(work, recovery_id, room, gross if place == 0 else None, at)
        told = {
            "change": "began",
            "cylinder": new.cylinders[0],
            "expected_kg": new.equipment.get("charge_kg"),
        }
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)
        return recovery_id


def swap(services: Services, actor: Actor, recovery_id: int, asked: Swap) -> None:
    """Record what the present cylinder took and go on with the next; raises as ``start`` and a transfer do."""
    with services.database.writing(actor.organisation_id) as work:
        recovery, fills = _open(work, recovery_id)
        present = under_way(fills)
        following = _following(work, fills, asked.to_cylinder)
        taken = _take(services, work, actor, (recovery, present), asked.gross_after_kg, asked.override_reason)
        at = services.now()
        incoming = Incoming(recovery.designation, PROBE_KG, _candidates(services, recovery))
        room = _room(services, work, actor, following[0], incoming, asked.override_reason, own=recovery_id)
        gross = _gross_before(services, work, room, asked.gross_before_kg)
        if following[1] is None:
            _plan(work, recovery_id, room, gross, at)
        else:
            recoveries.change_fill(
                work, following[1].id, begun_at=at, gross_before_kg=gross,
                target_gross_kg=room.target_gross_kg, room_kg=room.room_kg,
            )  # fmt: skip
        told = {"change": "swapped", "mass_kg": taken, "cylinder": room.cylinder.serial}
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)


def end(services: Services, actor: Actor, recovery_id: int, ending: Ending) -> None:
    """
    Record what the last cylinder took, and the vacuum of the equipment.

    Raises
    ------
    Conflict
        When the vacuum is not that of the law, or the mass not that expected, and nobody says why.
    """
    with services.database.writing(actor.organisation_id) as work:
        recovery, fills = _open(work, recovery_id)
        present = under_way(fills)
        cylinder = by_serial(work, present.cylinder)
        _take(services, work, actor, (recovery, present), ending.gross_after_kg, ending.override_reason)
        at = services.now()
        recovered = sum(one.mass_kg or 0.0 for one in recoveries.fills_of(work, [recovery_id]))
        document = recovery_end.decide(services, work, recovery, cylinder, recovered, ending)
        for fill in fills:
            if fill.begun_at is None:
                recoveries.change_fill(work, fill.id, ended_at=at)
        recoveries.change(work, recovery_id, ended_at=at, ended_by=actor.name, ending=document)
        told = {"change": "ended", "recovered_kg": recovered, "vacuum_met": document["vacuum_met"]}
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)


def by_id(work: Work, recovery_id: int, *, lock: bool = False) -> Recovery:
    """One recovery, in somebody's transaction."""
    found = recoveries.by_id(work, recovery_id, lock=lock)
    if found is None:
        raise NotFound("recovery", recovery_id)
    return found


def under_way(fills: Sequence[Fill]) -> Fill:
    """The cylinder that is being filled: an open recovery has exactly one."""
    return next(fill for fill in fills if fill.begun_at is not None and fill.ended_at is None)


def _open(work: Work, recovery_id: int) -> tuple[Recovery, list[Fill]]:
    recovery = by_id(work, recovery_id, lock=True)
    if recovery.ended_at is not None:
        raise Conflict([Reason("recovery-ended", f"Recovery {recovery_id} has ended.")])
    return recovery, recoveries.fills_of(work, [recovery_id])


def _room(
    services: Services,
    work: Work,
    actor: Actor,
    cylinder: Cylinder,
    asked: Incoming,
    override_reason: str | None,
    own: int | None = None,
) -> _Room:
    """What a cylinder takes of this, or every reason why it takes nothing."""
    others = [one for one in recoveries.standing_of(work, [cylinder.id]) if one.recovery_id != own]
    if others:
        text = f"Cylinder {cylinder.serial} is in recovery {others[0].recovery_id}, which has not ended."
        raise Conflict([Reason("in-another-recovery", text)])
    check = judgements.of(services, work, cylinder).judgement.may_take(asked)
    if override_reason is not None and actor.scope not in transfers.MAY_OVERRIDE:
        raise NotAllowed("Only a supervisor can override a rule.")
    if not check.allowed and (override_reason is None or not check.may_be_overridden):
        raise Conflict(checks.reasons(check.breaches))
    if check.limit is None or check.remaining_kg is None or cylinder.tare_kg is None:
        text = f"Nobody can tell how much cylinder {cylinder.serial} may take: what comes is not known."
        raise Conflict([Reason("room-unknown", text)])
    return _Room(cylinder, check.remaining_kg, cylinder.tare_kg + check.limit.mass_kg)


def _gross_before(services: Services, work: Work, room: _Room, stated: float | None) -> float:
    gross = stated
    if gross is None:
        try:
            gross = live_mass(services, work, room.cylinder)
        except Invalid:
            gross = room.cylinder.gross_mass_kg
    if gross is None:
        raise Invalid(FieldError("gross_before_kg", None, "the gross mass of the cylinder before it"))
    recorded = room.target_gross_kg - room.room_kg
    if abs(gross - recorded) > AGREE_KG:
        expected = f"what is on record, {recorded:.3f} kg; weigh the cylinder first"
        raise Invalid(FieldError("gross_before_kg", gross, expected))
    return gross


def _plan(work: Work, recovery_id: int, room: _Room, gross_before_kg: float | None, at: datetime) -> None:
    recoveries.add_fill(
        work, recovery_id=recovery_id, cylinder_id=room.cylinder.id, room_kg=room.room_kg,
        target_gross_kg=room.target_gross_kg, gross_before_kg=gross_before_kg,
        begun_at=None if gross_before_kg is None else at,
    )  # fmt: skip


def _following(work: Work, fills: Sequence[Fill], stated: str | None) -> tuple[Cylinder, Fill | None]:
    """The next cylinder, and its fill where it was planned."""
    waiting = [fill for fill in fills if fill.begun_at is None]
    if stated is None and not waiting:
        raise Invalid(FieldError("to_cylinder", None, "a serial: no other cylinder was planned"))
    cylinder = by_serial(work, waiting[0].cylinder if stated is None else stated, lock=True)
    if any(fill.cylinder_id == cylinder.id and fill.begun_at is not None for fill in fills):
        raise Invalid(FieldError("to_cylinder", cylinder.serial, "a cylinder that this recovery did not use"))
    planned = next((fill for fill in waiting if fill.cylinder_id == cylinder.id), None)
    return cylinder, planned


def _take(
    services: Services,
    work: Work,
    actor: Actor,
    step: tuple[Recovery, Fill],
    gross_after_kg: float | None,
    override_reason: str | None,
) -> float:
    """Record the transfer into the present cylinder by its weight; nothing where the scale did not move."""
    recovery, fill = step
    cylinder = by_serial(work, fill.cylinder, lock=True)
    gross = live_mass(services, work, cylinder) if gross_after_kg is None else gross_after_kg
    before = fill.gross_before_kg or 0.0
    done: dict[str, Any] = {"ended_at": services.now()}
    if abs(gross - before) > NOTHING_KG:
        new = NewTransfer(
            serial=fill.cylinder, direction="in", weighing=Weighing(None, before, gross),
            refrigerant=recovery.designation, phase=recovery.phase, technician=recovery.technician,
            certification_number=recovery.certification_number, equipment=recovery.equipment,
            standing=_standing(recovery), override_reason=override_reason, note=f"recovery {recovery.id}",
        )  # fmt: skip
        done["transfer_id"] = transfers.record(services, actor, new).transfer.id
    recoveries.change_fill(work, fill.id, **done)
    return gross - before


def _standing(recovery: Recovery) -> Standing | None:
    if recovery.standing is None:
        return None
    kept = dict(recovery.standing)
    return Standing(**{**kept, "pressure": PressureReading(**kept["pressure"])})


def _candidates(services: Services, recovery: Recovery) -> tuple[str, ...]:
    standing = _standing(recovery)
    if standing is None:
        return ()
    return equipment.candidates(equipment.judge(services, standing, recovery.designation))
