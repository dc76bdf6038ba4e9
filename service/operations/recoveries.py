"""Use cases for a recovery out of equipment: begin it, change cylinders, end it with the vacuum the law asks for."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date

from service.cylinders.plausibility import serial_key
from service.operations import checks, equipment, recovery_end
from service.operations.recovery_end import Ending
from service.operations.recovery_turns import (
    Closed,
    at_rest_of,
    following,
    gross_before,
    plan,
    room_of,
    take,
)
from service.operations.support import attention
from service.operations.support.context import Actor, Services, tell
from service.operations.support.errors import Conflict, FieldError, Invalid, NotFound, Reason
from service.operations.support.events import RECOVERY_CHANGED
from service.operations.support.lookup import all_locked, by_serial
from service.operations.support.readings import Reading
from service.store import recoveries
from service.store.equipment import Equipment
from service.store.recoveries import Fill, Recovery
from service.store.work import Work

PROBE_KG = 0.01
"""What the guard is asked about to learn whether anything may go in, and how much [kg]."""


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
    at_rest
        Pressure and temperature of the equipment at rest.
    method
        ``liquid``, ``vapour`` or ``push-pull``.
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
    equipment: Equipment
    at_rest: Reading | None = None
    method: str = "liquid"
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
    closed
        The one that is full.
    to_cylinder
        Serial of the next; None takes the next of the plan.
    without_next
        Take the full one off and put none on: another is still to be found.
    gross_before_kg
        Of the next [kg], else its scale's, else its last weighing.
    override_reason
        Why a supervisor decides otherwise where the law leaves room.
    """

    closed: Closed
    to_cylinder: str | None = None
    without_next: bool = False
    gross_before_kg: float | None = None
    override_reason: str | None = None


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
    if len(set(map(serial_key, new.cylinders))) != len(new.cylinders) or not new.cylinders:
        raise Invalid(FieldError("cylinders", list(new.cylinders), "at least one serial, each once"))
    designation, at = checks.designation_of(services, new.refrigerant), services.now()
    judged = equipment.judge(services, new.at_rest, designation) if new.at_rest else None
    asked = equipment.incoming(designation, PROBE_KG, judged)
    with services.database.writing(actor.organisation_id) as work:
        locked = all_locked(work, new.cylinders)
        ordered = [locked[serial] for serial in new.cylinders]
        rooms = [room_of(services, work, actor, one, asked, new.override_reason) for one in ordered]
        gross = gross_before(services, work, rooms[0], new.gross_before_kg)
        recovery_id = recoveries.insert(
            work, designation=designation, expected_kg=new.equipment.get("charge_kg"),
            phase=phase_of(new.method), method=new.method,
            equipment=dict(new.equipment), standing=asdict(new.at_rest) if new.at_rest else None,
            machine_made_on=new.machine_made_on, small_appliance=new.small_appliance,
            compressor_runs=new.compressor_runs, technician=new.technician,
            certification_number=new.certification_number, occurred_at=at, recorded_by=actor.name,
        )  # fmt: skip
        for place, room in enumerate(rooms):
            plan(work, recovery_id, room, gross if place == 0 else None, at)
        told = {
            "change": "began",
            "cylinder": new.cylinders[0],
            "expected_kg": new.equipment.get("charge_kg"),
        }
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)
        return recovery_id


def swap(services: Services, actor: Actor, recovery_id: int, asked: Swap) -> None:
    """
    Record what the present cylinder took and go on with the next.

    Taking the full one off is never refused for what is in it; the next one has to be fit. Where it is not, take the
    full one off ``without_next``.

    Raises
    ------
    Conflict
        When the next cylinder may not take it, has no room, or is in another recovery.
    Invalid
        When names or masses make no sense.
    """
    with services.database.writing(actor.organisation_id) as work:
        recovery, fills = opened(work, recovery_id)
        present, taken = under_way(fills), 0.0
        if present is None and asked.without_next:
            raise Invalid(FieldError("without_next", True, "false: no cylinder is on"))
        if present is not None:
            taken = take(services, work, actor, (recovery, present), asked.closed)
        serial = None if asked.without_next else _go_on(services, work, actor, recovery, fills, asked)
        at = services.now()
        told = {"change": "swapped", "mass_kg": taken, "cylinder": serial}
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)
        attention.review(services, work, actor, at, [fill.cylinder_id for fill in fills])


def _go_on(
    services: Services, work: Work, actor: Actor, recovery: Recovery, fills: Sequence[Fill], asked: Swap
) -> str:
    """Begin the next cylinder's turn; answers its serial."""
    cylinder, planned = following(work, fills, asked.to_cylinder)
    at_rest = at_rest_of(recovery)
    judged = equipment.judge(services, at_rest, recovery.designation) if at_rest else None
    incoming = equipment.incoming(recovery.designation, PROBE_KG, judged)
    room = room_of(services, work, actor, cylinder, incoming, asked.override_reason, own=recovery.id)
    gross, at = gross_before(services, work, room, asked.gross_before_kg), services.now()
    if planned is None:
        plan(work, recovery.id, room, gross, at)
    else:
        recoveries.change_fill(
            work, planned.id, begun_at=at, gross_before_kg=gross, target_gross_kg=room.target_gross_kg,
            room_kg=room.room_kg,
        )  # fmt: skip
    return cylinder.serial


def end(services: Services, actor: Actor, recovery_id: int, ending: Ending) -> None:
    """
    Record what the last cylinder took, and the vacuum of the equipment.

    Raises
    ------
    Conflict
        When the vacuum is not that of the law, or the mass not that expected, and nobody says why.
    """
    with services.database.writing(actor.organisation_id) as work:
        recovery, fills = opened(work, recovery_id)
        present, last = under_way(fills), [fill for fill in fills if fill.begun_at is not None][-1]
        if present is not None:
            take(services, work, actor, (recovery, present), ending.closed)
        at = services.now()
        recovered = sum(one.mass_kg or 0.0 for one in recoveries.fills_of(work, [recovery_id]))
        cylinder = by_serial(work, last.cylinder)
        document = recovery_end.decide(services, work, recovery, cylinder, recovered, ending)
        for fill in fills:
            if fill.begun_at is None:
                recoveries.change_fill(work, fill.id, ended_at=at)
        recoveries.change(work, recovery_id, ended_at=at, ended_by=actor.name, ending=document)
        told = {"change": "ended", "recovered_kg": recovered, "vacuum_met": document["vacuum_met"]}
        tell(work, actor, at, RECOVERY_CHANGED, f"recoveries/{recovery_id}", told)
        attention.review(services, work, actor, at, [fill.cylinder_id for fill in fills])


def phase_of(method: str) -> str:
    """What comes into the cylinder by a method."""
    return "vapour" if method == "vapour" else "liquid"


def by_id(work: Work, recovery_id: int, *, lock: bool = False) -> Recovery:
    """One recovery, in somebody's transaction."""
    found = recoveries.by_id(work, recovery_id, lock=lock)
    if found is None:
        raise NotFound("recovery", recovery_id)
    return found


def under_way(fills: Sequence[Fill]) -> Fill | None:
    """The cylinder that is being filled: at most one; none while the next is still to be put on."""
    return next((fill for fill in fills if fill.begun_at is not None and fill.ended_at is None), None)


def opened(work: Work, recovery_id: int) -> tuple[Recovery, list[Fill]]:
    """A recovery that goes on, locked, with its cylinders; Conflict once it has ended."""
    recovery = by_id(work, recovery_id, lock=True)
    if recovery.ended_at is not None:
        raise Conflict([Reason("recovery-ended", f"Recovery {recovery_id} has ended.")])
    return recovery, recoveries.fills_of(work, [recovery_id])
