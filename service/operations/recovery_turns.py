"""A cylinder's turn in a recovery: the room that it has, the weight before and after, the transfer that it took."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.cylinders.judgement.state import Incoming
from service.cylinders.plausibility import serial_key
from service.operations import checks, transfers
from service.operations.cylinders import CylinderFields, correct
from service.operations.support import judgements
from service.operations.support.atmosphere import PressureReading
from service.operations.support.context import Actor, Services
from service.operations.support.doubts import ASK
from service.operations.support.errors import Conflict, FieldError, Invalid, NotAllowed, Reason
from service.operations.support.lookup import by_serial
from service.operations.support.readings import Reading
from service.operations.support.weights import AGREE_KG, Weighing, live_mass
from service.operations.transfer_entry import NewTransfer
from service.store import recoveries
from service.store.cylinders import Cylinder
from service.store.recoveries import Fill, Recovery
from service.store.work import Work
from service.verdict.reading_conditions import Conditions

NOTHING_KG = 0.005
"""A scale that moved by less than this saw nothing come in [kg]."""


@dataclass(frozen=True, slots=True)
class Room:
    """How much a cylinder takes of what comes, and its gross mass when it is full [kg]."""

    cylinder: Cylinder
    room_kg: float
    target_gross_kg: float


@dataclass(frozen=True, slots=True)
class Closed:
    """
    What is said when a cylinder's line is taken off.

    Parameters
    ----------
    gross_after_kg
        Its gross mass [kg]; None takes it from the scale under it.
    confirmed
        A weight beyond the limit is right as typed.
    cylinder
        Serial of the one that is meant; another phone may have taken it off already.
    """

    gross_after_kg: float | None = None
    confirmed: bool = False
    cylinder: str | None = None


def room_of(
    services: Services,
    work: Work,
    actor: Actor,
    cylinder: Cylinder,
    asked: Incoming,
    override_reason: str | None,
    own: int | None = None,
) -> Room:
    """What a cylinder takes of this, or every reason why it takes nothing."""
    others = [one for one in recoveries.unended_of(work, [cylinder.id]) if one.recovery_id != own]
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
    return Room(cylinder, check.remaining_kg, cylinder.tare_kg + check.limit.mass_kg)


def gross_before(services: Services, work: Work, room: Room, stated: float | None) -> float:
    """Gross mass with which a turn begins [kg]: as stated, else the scale's, else the last weighing."""
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


def plan(work: Work, recovery_id: int, room: Room, gross_before_kg: float | None, at: datetime) -> None:
    """Put a cylinder into the plan; with its gross mass [kg] its turn begins."""
    recoveries.add_fill(
        work, recovery_id=recovery_id, cylinder_id=room.cylinder.id, room_kg=room.room_kg,
        target_gross_kg=room.target_gross_kg, gross_before_kg=gross_before_kg,
        begun_at=None if gross_before_kg is None else at,
    )  # fmt: skip


def following(work: Work, fills: Sequence[Fill], stated: str | None) -> tuple[Cylinder, Fill | None]:
    """The next cylinder, and its fill where it was planned."""
    waiting = [fill for fill in fills if fill.begun_at is None]
    if stated is None and not waiting:
        raise Invalid(FieldError("to_cylinder", None, "a serial: no other cylinder was planned"))
    cylinder = by_serial(work, waiting[0].cylinder if stated is None else stated, lock=True)
    if any(fill.cylinder_id == cylinder.id and fill.begun_at is not None for fill in fills):
        raise Invalid(FieldError("to_cylinder", cylinder.serial, "a cylinder that this recovery did not use"))
    planned = next((fill for fill in waiting if fill.cylinder_id == cylinder.id), None)
    return cylinder, planned


def take(services: Services, work: Work, actor: Actor, step: tuple[Recovery, Fill], closed: Closed) -> float:
    """
    Record what the cylinder on the line took, by its weight [kg]; nothing where the scale did not move.

    What is in it is in it: no rule refuses that it is recorded. Broken ones are kept with the transfer, and a cylinder
    that is overfull raises that cause at once.

    Raises
    ------
    Conflict
        When a typed weight is beyond the limit and nobody has confirmed it, or another cylinder is on.
    """
    recovery, fill = step
    if closed.cylinder is not None and serial_key(closed.cylinder) != serial_key(fill.cylinder):
        text = f"{closed.cylinder} is off already; {fill.cylinder} is on. Look at how it stands and go on from there."
        raise Conflict([Reason("another-cylinder-on", text)])
    cylinder = by_serial(work, fill.cylinder, lock=True)
    gross = live_mass(services, work, cylinder) if closed.gross_after_kg is None else closed.gross_after_kg
    if closed.gross_after_kg is not None and not closed.confirmed:
        _ask_back(fill, gross)
    before = fill.gross_before_kg or 0.0
    done: dict[str, Any] = {"ended_at": services.now()}
    if gross - before > NOTHING_KG:
        done["transfer_id"] = transfers.record(services, actor, _transfer(recovery, fill, gross)).transfer.id
    elif before - gross > AGREE_KG:
        # Less than it began with is no transfer in: as a weighing it shows as missing mass.
        weighing: CylinderFields = {"gross_mass_kg": gross, "confirmed": True}
        correct(services, actor, fill.cylinder, weighing, fresh=lambda _: True)
    recoveries.change_fill(work, fill.id, **done)
    return max(0.0, gross - before)


def _ask_back(fill: Fill, gross_kg: float) -> None:
    over = gross_kg - fill.target_gross_kg
    if over > 0.0:
        text = (
            f"gross_after_kg: {gross_kg:g} kg is {over:.2f} kg over the limit of {fill.target_gross_kg:.2f} kg gross. "
            f"Put nothing more in. {ASK}"
        )
        raise Conflict([Reason("over-the-limit", text, may_override=True)])


def _transfer(recovery: Recovery, fill: Fill, gross_kg: float) -> NewTransfer:
    return NewTransfer(
        serial=fill.cylinder, direction="in", weighing=Weighing(None, fill.gross_before_kg or 0.0, gross_kg),
        refrigerant=recovery.designation, phase=recovery.phase, technician=recovery.technician,
        certification_number=recovery.certification_number, equipment=recovery.equipment,
        at_rest=at_rest_of(recovery), note=f"recovery {recovery.id}", has_happened=True,
        override_reason=f"recovery {recovery.id}: it was in the cylinder when it was weighed",
    )  # fmt: skip


def at_rest_of(recovery: Recovery) -> Reading | None:
    """The reading of the equipment at rest, as kept with the recovery."""
    if recovery.standing is None:
        return None
    kept = dict(recovery.standing)
    kept["pressure"] = PressureReading(**kept["pressure"])
    kept["conditions"] = Conditions(**kept.get("conditions", {}))
    return Reading(**kept)
